/** Bodies of the scripts of a record (`scripts.ts`) that are about one moulding: begun, on its way, ended. */
export const MOULDING_SCRIPTS = {
  /**
   * A moulding's attempt begins. index, run → go, fence, time spent by all, mouldings waiting, mouldings of
   * this round, its limit, allotted, used, checkpoint, its figures, late part, its figures, shop, phase or empty, beyond, ended,
   * promised | done | failed | ended, state.
   */
  begin: `
local i = ARGV[1]
if get('state') ~= 'running' or get('run') ~= ARGV[2] then return { 'ended', get('state') or 'gone' } end
if get(F.final .. i) then return { 'done' } end
if get(F.failure .. i) then return { 'failed' } end
local fence = add(F.fence .. i, 1)
local at = now()
close(i, count(F.sign .. i))
local open = count('open')
local spent = count('spent') + open * at - count('openSum')
local waiting = count('total') - count('done') - count('failed') - open
local promised = math.max(0, count('promised') - math.max(0, open * at - count('openSum')))
-- A repeated attempt has what is left of its share.
local share = get(F.allotted .. i)
if share then add('promised', math.max(0, tonumber(share) - count(F.used .. i))) end
set(F.begun .. i, text(at), F.sign .. i, text(at))
if not get('started') then set('started', text(at)) end
add('open', 1)
add('openSum', at)
tell('solving')
local best, figures = get(F.checkpoint .. i), get(F.checkpointFigures .. i)
if not best then best, figures = get(F.part .. i), get(F.partFigures .. i) end
return { 'go', fence, text(spent), waiting, count('size'), get('left') or get('limit') or '0', get(F.allotted .. i) or '',
  get(F.used .. i) or '0', best or '', figures or '', get(F.late .. i) or '', get(F.lateFigures .. i) or '', get('shop') or '',
  get('phase') or '', text(count('beyond')), text(count('ended')), text(promised) }`,

  /** index, run, fence, milliseconds → go | ended: the share of an attempt that had none yet. */
  allot: `
local i = ARGV[1]
local known = get(F.allotted .. i)
if known or get('run') ~= ARGV[2] or get(F.fence .. i) ~= ARGV[3] or not get(F.begun .. i) then return { 'ended' } end
set(F.allotted .. i, ARGV[4])
add('promised', tonumber(ARGV[4]))
return { 'go' }`,

  /** index, run, fence: the batch has been read, and from now on the moulding's time counts → go | ended. */
  clock: `
local i = ARGV[1]
local begun = get(F.begun .. i)
if not begun or get('run') ~= ARGV[2] or get(F.fence .. i) ~= ARGV[3] then return { 'ended' } end
local at = now()
add('openSum', at - tonumber(begun))
set(F.begun .. i, text(at))
return { 'go' }`,

  /** index, run, fence, allotted, figures, checkpoint, its figures, job → go | late, part, figures | stale | ended, state. */
  beat: `
local i = ARGV[1]
if get('state') ~= 'running' or get('run') ~= ARGV[2] then return { 'ended', get('state') or 'gone' } end
if get(F.fence .. i) ~= ARGV[3] or get(F.final .. i) then return { 'stale' } end
set(F.sign .. i, text(now()), F.allotted .. i, ARGV[4])
if get('shop') then rackHeard(ARGV[8]) end
if ARGV[5] ~= '' then set(F.figures .. i, ARGV[5]) tell('improved') end
if ARGV[6] ~= '' then set(F.checkpoint .. i, ARGV[6], F.checkpointFigures .. i, ARGV[7]) end
local late = get(F.late .. i)
if late then return { 'late', late, get(F.lateFigures .. i) } end
return { 'go' }`,

  /** index, run, fence, part, figures, allotted → stored | exists | stale (kept for the newer attempt) | ended, state. */
  finish: `
local i = ARGV[1]
if get('state') ~= 'running' or get('run') ~= ARGV[2] then return { 'ended', get('state') or 'gone' } end
if get(F.final .. i) then return { 'exists' } end
if get(F.failure .. i) then return { 'ended', 'failed' } end
if get(F.fence .. i) ~= ARGV[3] then
  if tonumber(ARGV[3]) <= count(F.outdated .. i) then return { 'stale' } end
  set(F.late .. i, ARGV[4], F.lateFigures .. i, ARGV[5])
  return { 'stale' }
end
close(i, now())
set(F.part .. i, ARGV[4], F.partFigures .. i, ARGV[5], F.figures .. i, ARGV[5], F.allotted .. i, ARGV[6], F.final .. i, 1)
del(F.checkpoint .. i, F.checkpointFigures .. i, F.late .. i, F.lateFigures .. i)
add('done', 1)
tell('part')
return { 'stored' }`,

  /** index, run, fence or empty for any, failure → failed | kept (a part of an earlier round) | stale | ended. */
  fail: `
local i = ARGV[1]
if get('state') ~= 'running' or get('run') ~= ARGV[2] then return { 'ended' } end
if get(F.final .. i) or get(F.failure .. i) then return { 'ended' } end
if ARGV[3] ~= '' and get(F.fence .. i) ~= ARGV[3] then return { 'stale' } end
close(i, now())
if get(F.part .. i) then
  set(F.final .. i, 1)
  add('done', 1)
  return { 'kept' }
end
set(F.failure .. i, ARGV[4])
add('failed', 1)
tell('part')
return { 'failed' }`,

  /** index, run, fence → released | stale: the attempt ends without a result, its time is noted. */
  release: `
local i = ARGV[1]
if get('run') ~= ARGV[2] or get(F.fence .. i) ~= ARGV[3] then return { 'stale' } end
close(i, now())
return { 'released' }`,
} as const;
