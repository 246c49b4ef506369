/** A command that another process keeps running ends with that process. */
export function endWithParent(): void {
  if (process.env.PAIRSTOP_KEPT !== '1' || process.send === undefined) return;
  process.once('disconnect', () => process.kill(process.pid, 'SIGTERM'));
  // The channel alone must not keep this process alive.
  process.channel?.unref();
}
