/** A command that was started by another, which keeps it running, ends with it. */
export function endWithParent(): void {
  if (process.env.PAIRSTOP_KEPT !== '1' || process.send === undefined) return;
  process.once('disconnect', () => process.kill(process.pid, 'SIGTERM'));
  // The channel alone must not keep it.
  process.channel?.unref();
}
