/** A BullMQ worker that leaves payloads unread: whoever put the job there, its text is parsed where it can do no harm. */
import { type Job, Worker } from 'bullmq';

type JobJson = Parameters<Worker['createJob']>[0];

const payloads = new WeakMap<Job, string>();

/** The job's payload as it lies in Redis. */
export function payloadOf(job: Job): string {
  return payloads.get(job) ?? '';
}

export class RawWorker extends Worker {
  protected override createJob(json: JobJson, jobId: string): Job {
    const payload = json.data;
    const job = super.createJob({ ...json, data: '{}' }, jobId);
    payloads.set(job, payload);
    return job;
  }
}
