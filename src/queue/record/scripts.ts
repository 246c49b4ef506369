/**
 * What happens to a batch's record happens in one step each, as Lua within Redis, so that no crash leaves half of it
 * and no late worker overwrites a newer one. Times are Redis's own, in milliseconds.
 *
 * Fields of the record, a hash:
 *
 *     format                                                          of this record, see FORMAT; absent: 1
 *     id fingerprint urgency run state submitted started finished     state: waiting running done failed cancelled
 *     batch mouldings total limit                                     sealed batch; ids as a JSON list; milliseconds
 *     round left size done failed open openSum spent                  of this round; the clock of nextShare (src/processes/share.ts)
 *     arrived small expected                                          for its place in the queue (src/queue/worker/rank.ts)
 *     plan status cost seconds published partial failure              what came out; seconds of sawing
 *     revision                                                        from 1; an earlier one is the record KEY@revision
 *     pool night members                                              of the pool, see src/queue/night/scripts.ts
 *     shop granted                                                    1 planned, 2 compared with the shop's rack; entries that were no attempts
 *
 * The rack's keys stand behind the record's (src/rack/store), so that a plan and its pieces are one step.
 *
 * and for each moulding those of `fields.ts`, here `F.name .. i`; `n:batch` is the fence of the batch's own job.
 */
import { RACK_KEYS } from '../../rack/store/keys.js';
import { rackPrelude } from '../../rack/store/scripts.js';
import { NIGHT_KEYS } from '../night/keys.js';
import { NIGHT_SCRIPTS, nightPrelude } from '../night/scripts.js';
import { LUA_FIELDS } from './fields.js';

/** Of records as this version writes them. One with a higher number is left to the newer workers that wrote it. */
export const FORMAT = 1;

/** Changes kept of all batches together: who submitted, cancelled and so on. */
const AUDIT_KEPT = 10_000;

const PRELUDE = `
${rackPrelude(2)}
${nightPrelude(RACK_KEYS.length + 2)}
local FORMAT, AUDIT_KEPT = ${FORMAT}, ${AUDIT_KEPT}
-- After the record's key come those of the rack and of the night, and then further ones.
local MORE = ${RACK_KEYS.length + NIGHT_KEYS.length + 2}
${LUA_FIELDS}
local key = KEYS[1]
local function get(field) return redis.call('HGET', key, field) end
local function set(...) return redis.call('HSET', key, ...) end
local function del(...) return redis.call('HDEL', key, ...) end
local function text(number) return string.format('%.0f', number) end
local function add(field, by) return redis.call('HINCRBY', key, field, text(by)) end
local function count(field) return tonumber(get(field) or '0') end
local function now()
  local time = redis.call('TIME')
  return time[1] * 1000 + math.floor(time[2] / 1000)
end
local function tell(what) redis.call('PUBLISH', key .. ':events', what) end
local function close(i, till)
  local start = get(F.begun .. i)
  if not start then return end
  local used = math.max(0, till - start)
  del(F.begun .. i)
  add('open', -1)
  add('openSum', -tonumber(start))
  add('spent', used)
  add(F.used .. i, used)
end
local function unfinished() local s = get('state') return s == 'waiting' or s == 'running' end
local function newer() return count('format') > FORMAT end
local function audit(trail, what, who)
  redis.call('XADD', trail, 'MAXLEN', '~', AUDIT_KEPT, '*', 'what', what, 'batch', get('id') or '', 'run', get('run') or '',
    'who', who)
end
local function conclude(state, retention, outcomes)
  local at = text(now())
  set('state', state, 'finished', at)
  if get('members') then membersEnd(key, string.match(key, ':store:(.*)$'), state, at, retention, outcomes) end
  redis.call('PEXPIRE', key, retention)
  tell(state)
end
-- What is unfinished never expires: its time to be kept begins at its end.
local function create(id, fingerprint, urgency)
  set('format', FORMAT, 'id', id, 'fingerprint', fingerprint, 'urgency', urgency, 'run', 1, 'state', 'waiting',
    'submitted', text(now()))
end
local function reopen()
  local finished = 0
  -- What was planned with pieces of the rack is of no use once they are let go.
  local spoiled = get('shop') or string.find(get('failure') or '', '"code":"PS_STORE"', 1, true)
  if get('shop') == '1' then rackRelease(get('id'), 'replaced', 'service') end
  for _, field in ipairs(redis.call('HKEYS', key)) do
    local letter = string.match(field, '^(%a):%d+$')
    local kind = letter and letter .. ':'
    if spoiled and kind and kind ~= F.fence then
      del(field)
      kind = ''
    end
    if kind == F.failure or kind == F.begun or kind == F.used or kind == F.allotted or kind == F.sign then del(field) end
    if kind == F.final then finished = finished + 1 end
  end
  del('failure', 'partial', 'plan', 'status', 'cost', 'seconds', 'finished', 'started', 'round', 'left', 'night')
  set('state', 'waiting', 'done', finished, 'failed', 0, 'open', 0, 'openSum', 0, 'spent', 0,
    'submitted', text(now()))
  add('run', 1)
  redis.call('PERSIST', key)
end
`;

/** With PRELUDE: the record of other content makes room, and stays under its revision. */
const SUPERSEDE = `
local function isCutFrom()
  -- Only a plan made with the shop's rack holds pieces of it.
  if get('shop') ~= '1' then return false end
  local id = get('id')
  for _, member in ipairs(redis.call('ZRANGEBYLEX', rack.held, '[' .. id .. '\\n', '(' .. id .. '\\11')) do
    if redis.call('HGET', rack.states, string.sub(member, #id + 2)) ~= 'reserved ' .. id then return true end
  end
  for _, state in ipairs(redis.call('HVALS', rack.states)) do
    if state == 'used ' .. id then return true end
  end
  return false
end
local function supersede(job, channel, id, fingerprint, urgency, retention)
  local run, revision = count('run'), math.max(1, count('revision'))
  if get('pool') then poolLeave(key, job) end
  if unfinished() then
    rackForget(job)
    conclude('cancelled', retention)
    redis.call('PUBLISH', channel, job)
  end
  if get('shop') == '1' then rackRelease(get('id'), 'replaced', 'service') end
  local earlier = key .. '@' .. text(revision)
  redis.call('RENAME', key, earlier)
  redis.call('PEXPIRE', earlier, retention)
  create(id, fingerprint, urgency)
  -- Runs count on, so that an attempt at the earlier content writes nothing here.
  set('run', run + 1, 'revision', revision + 1)
end
-- In a night that has closed: whatever happens to it happens to all of the night.
local function inNight() local s = get('state') return get('night') and (unfinished() or s == 'done') end
local function isFree() local s = get('state') return s == 'failed' or s == 'cancelled' end
`;

export const SCRIPTS = {
  /**
   * With the job's own key and the audit trail beside the record's. id, fingerprint, urgency, run whose plan is known to
   * be damaged or empty, who, job id, channel of cancellations, 1 to replace other content, retention, sealed batch that
   * waits in the pool or empty, when the pool closes if it is empty → new | again | same |
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
if outcome == 'new' then audit(KEYS[MORE + 1], 'submitted', ARGV[5])
elseif outcome == 'replaced' then audit(KEYS[MORE + 1], 'revised', ARGV[5])
elseif outcome == 'again' then audit(KEYS[MORE + 1], 'submitted again', ARGV[5]) end
return { outcome, get('fingerprint'), get('state'), get('run'), redis.call('EXISTS', KEYS[MORE]), get('revision') or '1' }`,

  /**
   * A batch's job begins. id, fingerprint, urgency, job's time, sealed batch, mouldings, total, limit, shop, job id,
   * channel of cancellations, retention, expected, small, when the pool closes or empty → go | pooled | other | gone | newer | done | failed |
   * cancelled, then fingerprint, run, fence, total, granted, shop. Without a sealed batch: one that is stored.
   */
  enter: `
if newer() then return { 'newer', '', 0, 0 } end
local known = get('fingerprint')
if not known then
  if ARGV[5] == '' then return { 'gone', '', 0, 0 } end
  create(ARGV[1], ARGV[2], ARGV[3])
elseif known ~= ARGV[2] then
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
if get('pool') or get('night') then return { 'pooled' } end
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
  set('expected', ARGV[13])
  if ARGV[14] ~= '' then set('small', ARGV[14]) end
end
redis.call('PERSIST', key)
if state == 'waiting' then
  set('state', 'running', 'arrived', text(now()))
  tell('running')
end
return { 'go', get('fingerprint'), count('run'), add('n:batch', 1), count('total'), count('granted'), get('shop') or '' }`,

  /**
   * A moulding's attempt begins. index, run → go, fence, time spent by all, mouldings waiting, mouldings of
   * this round, its limit, allotted, used, checkpoint, its figures, late part, its figures, shop | done | failed | ended, state.
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
set(F.begun .. i, text(at), F.sign .. i, text(at))
if not get('started') then set('started', text(at)) end
add('open', 1)
add('openSum', at)
tell('solving')
local best, figures = get(F.checkpoint .. i), get(F.checkpointFigures .. i)
if not best then best, figures = get(F.part .. i), get(F.partFigures .. i) end
return { 'go', fence, text(spent), waiting, count('size'), get('left') or get('limit') or '0', get(F.allotted .. i) or '',
  get(F.used .. i) or '0', best or '', figures or '', get(F.late .. i) or '', get(F.lateFigures .. i) or '', get('shop') or '' }`,

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

  /** run, fence, round, milliseconds left, indices → extended | stale | ended: these mouldings are gone on with. */
  extend: `
if get('state') ~= 'running' or get('run') ~= ARGV[1] then return { 'ended', get('state') or 'gone' } end
if get('n:batch') ~= ARGV[2] then return { 'stale' } end
if count('round') ~= tonumber(ARGV[3]) then return { 'extended' } end
local indices = cjson.decode(ARGV[5])
for _, i in ipairs(indices) do del(F.final .. i, F.allotted .. i, F.used .. i) end
set('round', ARGV[3] + 1, 'left', ARGV[4], 'size', #indices, 'done', count('total') - #indices - count('failed'),
  'open', 0, 'openSum', 0, 'spent', 0)
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
  'open', 0, 'openSum', 0, 'spent', 0)
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
for i = 0, (get('shop') and count('total') or 0) - 1 do del(F.rack .. i) end
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
   * With the audit trail beside the record. retention, channel, job, who → cancelled | ended, state | night, its id: it has
   * closed with this batch | unknown. What a plan
   * has reserved and nobody has begun is free again.
   */
  cancel: `
local state = get('state')
if not state then return { 'unknown' } end
if unfinished() and get('night') then return { 'night', redis.call('HGET', recordOf(get('night')), 'id') or '' } end
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

  ...NIGHT_SCRIPTS,
} as const;

export type ScriptName = keyof typeof SCRIPTS;

/** These free memory, or let work end that holds some: a Redis that is full must take them. */
const FREEING: readonly ScriptName[] = ['cancel', 'failBatch', 'fail', 'release', 'purge', 'strip'];

/** Scripts whole, as Redis gets them. */
export const SCRIPT_TEXTS: Readonly<Record<ScriptName, string>> = Object.fromEntries(
  (Object.entries(SCRIPTS) as [ScriptName, string][]).map(([name, body]) => [
    name,
    `${FREEING.includes(name) ? '#!lua flags=allow-oom' : ''}\n${PRELUDE}\n${SUPERSEDE}\n${body}\n`,
  ]),
) as Record<ScriptName, string>;
