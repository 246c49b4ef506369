/** Counts and times on the card. */

export function plural(count: number, one: string): string {
  return `${count} ${one}${count === 1 ? '' : 's'}`;
}

export function timeLeft(seconds: number): string {
  const minutes = Math.max(1, Math.round(seconds / 60));
  return minutes < 90 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
