/** Parts of the work as spans of a trace; without a collector (see tracing.ts) they cost nothing. */
import { type Attributes, SpanStatusCode, trace } from '@opentelemetry/api';

/** Within whatever span is open: BullMQ's of the job, as a rule. */
export function inSpan<T>(name: string, attributes: Attributes, work: () => Promise<T>): Promise<T> {
  return trace.getTracer('pairstop').startActiveSpan(name, { attributes }, async (span) => {
    try {
      return await work();
    } catch (error) {
      span.setStatus({ code: SpanStatusCode.ERROR, message: error instanceof Error ? error.message : '' });
      throw error;
    } finally {
      span.end();
    }
  });
}
