/**
 * What happens to a batch's record happens in one step each, as Lua within Redis, so that no crash leaves half of it
 * and no late worker overwrites a newer one. Times are Redis's own, in milliseconds.
 *
 * Fields of the record, a hash:
 *
 *     format                                                          of this record, see FORMAT (prelude.ts); absent: 1
 *     id fingerprint urgency run state submitted started finished     state: waiting running done failed cancelled
 *     batch mouldings total rails limit                               sealed batch; ids as a JSON list; milliseconds
 *     round left size done failed open openSum spent                  of this round; its clock (`turnShare`, src/processes/share.ts)
 *     phase promised beyond ended wood                                what its turns are for, and what `turnShare` needs of them; 1: its wood
 *                                                                     may come first; all gone, like each part, once the plan is there
 *     arrived small expected                                          for its place in the queue (src/queue/worker/rank.ts)
 *     plan status cost seconds published partial failure              what came out; seconds of sawing
 *     revision                                                        from 1; an earlier one is the record KEY@revision
 *     pool night members holds                                        of the pool and of quotes, see src/queue/night/scripts.ts
 *     shop granted                                                    1 planned, 2 compared with the shop's rack; entries that were no attempts
 *
 * The rack's keys stand behind the record's (src/rack/store), so that a plan and its pieces are one step.
 *
 * and for each moulding those of `fields.ts`, here `F.name .. i`; `n:batch` is the fence of the batch's own job.
 */
import { NIGHT_SCRIPTS } from '../night/scripts.js';
import { MOULDING_SCRIPTS } from './moulding-scripts.js';
import { LEAVE, PRELUDE, SUPERSEDE } from './prelude.js';

export const SCRIPTS = {
  /**
   * With the job's own key and the audit trail beside the record's. id, fingerprint, urgency, run whose plan is known to
   * be damaged or empty, who, job id, channel of cancellations, 1 to replace other content, retention, sealed batch that
   * waits in the pool or empty, when the pool closes if it is empty, job id of what a quote holds for it or empty → new | again | same |
   * other | cut | night | replaced | newer, then fingerprint, state, run, whether the job exists, revision. Other content that
   * failed or was cancelled gives way unasked; of what is being cut nothing does.
   */
  claim: `
if newer() then return { 'newer', '', 'waiting', 0, 0 } end
local known = get('fingerprint')
local outcome = 'same'
if not known then
  create(ARGV[1], ARGV[2], ARGV[3])
  outcome = 'new'
elseif known ~= ARGV[2] then
  if ARGV[8] ~= '1' and not isFree() then outcome = 'other'
  elseif inNight() then outcome = 'night'
  elseif isCutFrom() then outcome = 'cut'
  else
    supersede(ARGV[6], ARGV[7], ARGV[1], ARGV[2], ARGV[3], ARGV[9])
    outcome = 'replaced'
  end
elseif unfinished() then
  redis.call('PERSIST', key)
else
  local kept = get('state') == 'done' and (get('plan') or get('night')) and get('batch') and get('run') ~= ARGV[4]
  if not kept then
    reopen()
    outcome = 'again'
  end
end
if ARGV[10] ~= '' and (outcome == 'new' or outcome == 'replaced' or outcome == 'again') then
  set('batch', ARGV[10])
  poolJoin(key, ARGV[6], ARGV[11], text(now()))
end
if unfinished() and outcome ~= 'other' and outcome ~= 'night' and outcome ~= 'cut' then keepHold(ARGV[12]) end
if outcome == 'new' then audit(KEYS[MORE + 1], 'submitted', ARGV[5])
elseif outcome == 'replaced' then audit(KEYS[MORE + 1], 'revised', ARGV[5])
elseif outcome == 'again' then audit(KEYS[MORE + 1], 'submitted again', ARGV[5]) end
return { outcome, get('fingerprint'), get('state'), get('run'), redis.call('EXISTS', KEYS[MORE]), get('revision') or '1' }`,

  /**
   * A batch's job begins. id, fingerprint, urgency, job's time, sealed batch, mouldings, total, limit, shop, job id,
   * channel of cancellations, retention, expected, small, when the pool closes or empty, job id of what a quote holds for it
   * or empty, rails, 1 where wood may come first → go | pooled | other | gone | newer | done | failed | cancelled, then fingerprint, run, fence, total, granted,
   * shop. Without a sealed batch: one that is stored. A night's job is for whatever it is put together from by then.
   */
  enter: `
if newer() then return { 'newer', '', 0, 0 } end
local known = get('fingerprint')
if not known then
  if ARGV[5] == '' then return { 'gone', '', 0, 0 } end
  create(ARGV[1], ARGV[2], ARGV[3])
elseif known ~= ARGV[2] and not (get('members') and ARGV[5] == '') then
  -- Put on the queue without a claim, after what had the id before failed or was cancelled.
  local free = isFree() and not inNight() and ARGV[5] ~= '' and tonumber(ARGV[4]) > count('finished') and not isCutFrom()
  if not free then return { 'other', known, 0, 0 } end
  supersede(ARGV[10], ARGV[11], ARGV[1], ARGV[2], ARGV[3], ARGV[12])
end
local state = get('state')
if not unfinished() and state ~= 'done' and tonumber(ARGV[4]) > count('finished') then
  reopen()
  state = 'waiting'
end
if not unfinished() then return { state, get('fingerprint'), count('run'), 0 } end
if get('pool') or get('night') or (get('members') and not get('batch')) then return { 'pooled' } end
if ARGV[5] ~= '' then keepHold(ARGV[16]) end
if ARGV[15] ~= '' then
  set('batch', ARGV[5])
  redis.call('PERSIST', key)
  poolJoin(key, ARGV[10], ARGV[15], text(now()))
  tell('waiting')
  return { 'pooled' }
end
if ARGV[5] ~= '' then
  set('batch', ARGV[5], 'mouldings', ARGV[6], 'total', ARGV[7], 'size', ARGV[7], 'limit', ARGV[8])
  if ARGV[9] ~= '' then set('shop', ARGV[9]) end
  set('expected', ARGV[13], 'rails', ARGV[17])
  if ARGV[18] ~= '' then set('wood', ARGV[18]) end
  if ARGV[14] ~= '' then set('small', ARGV[14]) end
end
redis.call('PERSIST', key)
if state == 'waiting' then
  set('state', 'running', 'arrived', text(now()))
  tell('running')
end
return { 'go', get('fingerprint'), count('run'), add('n:batch', 1), count('total'), count('granted'), get('shop') or '' }`,

  /** run, fence, phase, milliseconds → opened | stale | ended: what the first round is for, where none of it has begun. */
  first: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
if not get('started') then set('phase', ARGV[3], 'left', ARGV[4]) end
return { 'opened' }`,

  /** run, fence, round, milliseconds left, indices, phase → extended | stale | ended: these mouldings are gone on with. */
  extend: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
if count('round') ~= tonumber(ARGV[3]) then return { 'extended' } end
local indices = cjson.decode(ARGV[5])
for _, i in ipairs(indices) do del(F.final .. i, F.allotted .. i, F.used .. i) end
set('round', ARGV[3] + 1, 'left', ARGV[4], 'size', #indices, 'done', count('total') - #indices - count('failed'),
  'open', 0, 'openSum', 0, 'spent', 0, 'promised', 0, 'beyond', 0, 'ended', 0, 'phase', ARGV[6])
return { 'extended' }`,

  /**
   * index, run, fence, pieces → go, pieces | stale | ended: what is free on the rack, as one attempt of this round found it.
   */
  resolve: `
local i = ARGV[1]
if get('state') ~= 'running' or get('run') ~= ARGV[2] then return { 'ended', get('state') or 'gone' } end
if get(F.fence .. i) ~= ARGV[3] then return { 'stale' } end
if not get(F.rack .. i) then set(F.rack .. i, ARGV[4]) end
return { 'go', get(F.rack .. i) }`,

  /** run, fence, job, silence → go | wait, batches before it | stale | ended: whether a batch with a ticket has its turn. */
  turn: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
rackHeard(ARGV[3])
local claims = redis.call('HGET', rack.claims, ARGV[3])
local before = claims and rackBefore(ARGV[3], cjson.decode(claims), ARGV[4]) or 0
if before == 0 then return { 'go' } end
add('granted', 1)
return { 'wait', before }`,

  /** run, fence, indices → planned | stale | ended: these mouldings are planned anew, from what is free then. */
  replan: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
local indices = cjson.decode(ARGV[3])
for _, i in ipairs(indices) do
  set(F.outdated .. i, count(F.fence .. i))
  del(F.final .. i, F.part .. i, F.partFigures .. i, F.checkpoint .. i, F.checkpointFigures .. i, F.figures .. i,
    F.late .. i, F.lateFigures .. i, F.allotted .. i, F.used .. i, F.rack .. i)
end
set('left', get('limit') or '0', 'size', #indices, 'done', count('total') - #indices - count('failed'),
  'open', 0, 'openSum', 0, 'spent', 0, 'promised', 0, 'beyond', 0, 'ended', 0)
del('phase')
add('granted', 2)
tell('replanned')
return { 'planned' }`,

  /**
   * run, fence, plan, status, cost, retention, change of the rack or empty, mouldings it takes pieces of, job, silence,
   * of a pooled plan what each of its batches comes to, seconds of sawing or empty →
   * published | taken, what is no longer as it was | wait, batches before it | newer | stale | ended, state.
   */
  publish: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
if ARGV[7] ~= '' then
  if rackNewer() then return { 'newer' } end
  local before = rackBefore(ARGV[9], cjson.decode(ARGV[8]), ARGV[10])
  if before > 0 then
    rackTicket(ARGV[9], ARGV[8])
    add('granted', 1)
    return { 'wait', before }
  end
  local change = cjson.decode(ARGV[7])
  local differs = rackDiffers(change)
  if #differs > 0 then
    rackTicket(ARGV[9], ARGV[8])
    return { 'taken', cjson.encode(differs) }
  end
  rackCommit(change)
end
rackForget(ARGV[9])
-- The plan holds all that the parts did, and is made anew where it is damaged. Fences stay, for attempts that are late.
for i = 0, count('total') - 1 do
  del(F.rack .. i, F.part .. i, F.partFigures .. i, F.final .. i, F.allotted .. i, F.used .. i, F.sign .. i)
end
del('round', 'left', 'size', 'open', 'openSum', 'spent', 'promised', 'beyond', 'ended', 'phase', 'wood')
set('plan', ARGV[3], 'status', ARGV[4], 'cost', ARGV[5])
if ARGV[12] ~= '' then set('seconds', ARGV[12]) end
add('published', 1)
conclude('done', ARGV[6], ARGV[11] ~= '' and cjson.decode(ARGV[11]))
return { 'published' }`,

  /** run or empty for any, failure, partial plan or empty, retention, job → failed | ended, state. */
  failBatch: `
if not unfinished() or (ARGV[1] ~= '' and get('run') ~= ARGV[1]) then return { 'ended', get('state') or 'gone' } end
set('failure', ARGV[2])
if ARGV[3] ~= '' then set('partial', ARGV[3]) end
rackForget(ARGV[5])
conclude('failed', ARGV[4])
return { 'failed' }`,

  /**
   * With the audit trail beside the record. retention, channel, job, who, 1 to have others planned again → cancelled | left,
   * its night's id, job and run, how many are left there | ended, state | night, its id: that is planned with this batch |
   * begun, the night's id: and that is being cut | unknown. What a plan has reserved and nobody has begun is free again.
   */
  cancel: `
local state = get('state')
if not state then return { 'unknown' } end
local of = inNight() and redis.call('HGET', recordOf(get('night')), 'id')
if of then
  if state == 'done' then
    local own = key
    key = recordOf(get('night'))
    local begun = isCutFrom()
    key = own
    if begun then return { 'begun', of } end
    if ARGV[5] ~= '1' then return { 'night', of } end
  end
  local job = get('night')
  local left, run = leaveNight(ARGV[3], ARGV[1], ARGV[2])
  conclude('cancelled', ARGV[1])
  audit(KEYS[MORE], 'cancelled', ARGV[4])
  return { 'left', of, job, run, left }
end
if get('pool') then poolLeave(key, ARGV[3]) end
if not unfinished() and not (state == 'done' and get('shop') == '1' and rackRelease(get('id'), 'cancelled', 'service') > 0) then
  return { 'ended', state }
end
rackForget(ARGV[3])
conclude('cancelled', ARGV[1])
audit(KEYS[MORE], 'cancelled', ARGV[4])
redis.call('PUBLISH', ARGV[2], ARGV[3])
return { 'cancelled' }`,

  /** With the audit trail beside the record. who → purged | kept, state: it has not ended | unknown. */
  purge: `
local state = get('state')
if not state then return { 'unknown' } end
if unfinished() then return { 'kept', state } end
audit(KEYS[MORE], 'purged', ARGV[1])
for revision = 1, count('revision') - 1 do redis.call('DEL', key .. '@' .. text(revision)) end
redis.call('DEL', key)
return { 'purged' }`,

  /**
   * The key is where the priorities of an urgency's mouldings are counted from; with it come the sets of those that have
   * not ended. → that moment, which moves on only while there are none.
   */
  ranks: `
local open = 0
for i = MORE, #KEYS do
  if redis.call('EXISTS', KEYS[i]) == 1 then open = open + 1 end
end
local from = redis.call('GET', key)
if not from or open == 0 then
  from = text(now())
  redis.call('SET', key, from)
end
return { from }`,

  /** The key is that of a job: what it carries gives way to a short text, since the job is refused or over. text → done. */
  strip: `
if redis.call('EXISTS', key) == 1 then set('data', ARGV[1]) end
return { 'done' }`,

  ...MOULDING_SCRIPTS,
  ...NIGHT_SCRIPTS,
} as const;

export type ScriptName = keyof typeof SCRIPTS;

/** These free memory, or let work end that holds some: a Redis that is full must take them. */
const FREEING: readonly ScriptName[] = ['cancel', 'failBatch', 'fail', 'release', 'purge', 'strip'];

/** Scripts whole, as Redis gets them. */
export const SCRIPT_TEXTS: Readonly<Record<ScriptName, string>> = Object.fromEntries(
  (Object.entries(SCRIPTS) as [ScriptName, string][]).map(([name, body]) => [
    name,
    `${FREEING.includes(name) ? '#!lua flags=allow-oom' : ''}\n${PRELUDE}\n${SUPERSEDE}\n${LEAVE}\n${body}\n`,
  ]),
) as Record<ScriptName, string>;
