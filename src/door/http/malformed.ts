/** What is no HTTP at all, or too slow to be taken for it: answered once, plainly, and cut off. */
import type { Socket } from 'node:net';
import { PairstopError } from '../../errors.js';
import { PROBLEM_TYPE, problemAnswer } from './problem.js';

const STATUSES: Readonly<
  Record<string, { readonly status: number; readonly line: string; readonly detail: string }>
> = {
  HPE_HEADER_OVERFLOW: {
    status: 431,
    line: 'Request Header Fields Too Large',
    detail: 'the headers are too large',
  },
  ERR_HTTP_REQUEST_TIMEOUT: {
    status: 408,
    line: 'Request Timeout',
    detail: 'the request did not come in time',
  },
};
const MALFORMED = { status: 400, line: 'Bad Request', detail: 'this is no HTTP request' };

export function answerMalformed(error: Error & { readonly code?: string }, socket: Socket): void {
  if (error.code === 'ECONNRESET' || socket.destroyed || !socket.writable) {
    socket.destroy();
    return;
  }
  const { status, line, detail } = STATUSES[error.code ?? ''] ?? MALFORMED;
  const { body } = problemAnswer(new PairstopError('PS_REQUEST', detail));
  const text = JSON.stringify({ ...body, status });
  socket.end(
    `HTTP/1.1 ${status} ${line}\r\nContent-Type: ${PROBLEM_TYPE}\r\nContent-Length: ${Buffer.byteLength(text)}\r\nConnection: close\r\n\r\n${text}`,
    () => socket.destroy(),
  );
}
