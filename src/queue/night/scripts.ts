/**
 * The pool within Redis. A batch that waits has `pool` in its record and its job id in the pool; once the pool has closed
 * it has `night`, the job id of the record it is planned in. That record has `members`, job ids as a JSON list, and
 * whatever it ends as they end as, in the same step. So a batch is in one night or in none, and ends when the night does.
 *
 * A batch may leave a night that has closed. The night's record then is as if it had just closed with the others: what was
 * planned of it is forgotten, its run is another one, and it is put together anew.
 *
 * What is held for a quote stays held for its order once that is submitted (`holds`, job ids of the holds as a JSON list),
 * until the order is planned with it, or over. A night has the holds of its batches.
 *
 * These are Lua functions and bodies for the scripts of the record (`../record/scripts.ts`), which hand them the keys.
 */
import { NIGHT_KEYS } from './keys.js';

/** Functions for any script that is given the night's keys, from the key `first` on. */
export function nightPrelude(first: number): string {
  const keys = NIGHT_KEYS.map((name, i) => `${name} = KEYS[${first + i}]`).join(', ');
  return `
local night = { ${keys} }
local function recordOf(job) return string.gsub(night.about, ':night:about$', ':store:') .. job end
local function poolEmptied()
  if redis.call('ZCARD', night.pool) == 0 then redis.call('HDEL', night.about, 'closes', 'opened') end
end
local function poolLeave(key, job)
  if redis.call('ZREM', night.pool, job) == 1 then poolEmptied() end
  redis.call('HDEL', key, 'pool')
end
-- Also what came before keeps its place; the first to come sets when the pool closes.
local function poolJoin(key, job, closes, at)
  if not redis.call('ZSCORE', night.pool, job) then
    redis.call('ZADD', night.pool, redis.call('HINCRBY', night.about, 'arrivals', 1), job)
  end
  redis.call('HSET', key, 'pool', '1')
  if not redis.call('HGET', night.about, 'closes') then
    redis.call('HSET', night.about, 'closes', closes, 'opened', at)
  end
end
-- What was held for a batch that is over and was not used is free.
local function letGoOf(record)
  local holds = redis.call('HGET', record, 'holds')
  if not holds then return end
  for _, job in ipairs(cjson.decode(holds)) do
    local id = redis.call('HGET', recordOf(job), 'id')
    if id then rackRelease(id, 'unused', 'service') end
    redis.call('DEL', recordOf(job))
  end
  redis.call('HDEL', record, 'holds')
end
-- What a night ends as, its batches end as. outcomes: job id → { status, cost }, of a plan.
local function membersEnd(key, job, state, at, retention, outcomes)
  local members = redis.call('HGET', key, 'members')
  if not members then return end
  redis.call('ZREM', night.open, job)
  for _, member in ipairs(cjson.decode(members)) do
    local record = recordOf(member)
    if redis.call('HGET', record, 'night') == job then
      redis.call('HSET', record, 'state', state, 'finished', at)
      local outcome = outcomes and outcomes[member]
      if outcome then redis.call('HSET', record, 'status', outcome[1], 'cost', outcome[2]) end
      local failure = redis.call('HGET', key, 'failure')
      if state == 'failed' and failure then redis.call('HSET', record, 'failure', failure) end
      letGoOf(record)
      redis.call('PEXPIRE', record, retention)
      redis.call('PUBLISH', record .. ':events', state)
    end
  end
end
`;
}

export const NIGHT_SCRIPTS = {
  /**
   * The pool closes. 1 to close it before its time, who → closed, job id, batches | early, when it closes | empty. The
   * night's record is made here, and every batch that waits points to it.
   */
  closeNight: `
local jobs = redis.call('ZRANGE', night.pool, 0, -1)
if #jobs == 0 then
  poolEmptied()
  return { 'empty' }
end
local at = now()
local closes = tonumber(redis.call('HGET', night.about, 'closes') or '0')
if ARGV[1] ~= '1' and at < closes then return { 'early', text(closes) } end
local id, job
repeat
  id = 'night-' .. redis.call('HINCRBY', night.about, 'nights', 1)
  job = 'b-' .. id
  key = recordOf(job)
until redis.call('EXISTS', key) == 0
create(id, '', 'now')
set('members', cjson.encode(jobs))
redis.call('ZADD', night.open, redis.call('HGET', night.about, 'nights'), job)
for _, member in ipairs(jobs) do
  local record = recordOf(member)
  redis.call('HSET', record, 'night', job, 'state', 'running', 'started', text(at))
  redis.call('HDEL', record, 'pool')
  redis.call('PUBLISH', record .. ':events', 'running')
end
redis.call('DEL', night.pool)
poolEmptied()
audit(KEYS[MORE], 'pool closed', ARGV[2])
return { 'closed', job, #jobs }`,

  /**
   * What a night is made of: job, then for each of its parts job, id, fingerprint, urgency, mouldings, total, limit, shop,
   * members, sealed batch, expected, small, rails, wood → made | made before | taken, id | changed | ended. The first part is the night's
   * own record. `changed`: one of the members has left the night meanwhile.
   */
  composeNight: `
local night_job = ARGV[1]
if not unfinished() then return { 'ended' } end
if get('batch') then return { 'made before' } end
for at = 2, #ARGV, 14 do
  for _, member in ipairs(cjson.decode(ARGV[at + 8])) do
    if redis.call('HGET', recordOf(member), 'night') ~= night_job then return { 'changed' } end
  end
end
for at = 16, #ARGV, 14 do
  if redis.call('EXISTS', recordOf(ARGV[at])) == 1 then return { 'taken', ARGV[at + 1] } end
end
for at = 2, #ARGV, 14 do
  local job = ARGV[at]
  key = recordOf(job)
  if job ~= night_job then create(ARGV[at + 1], ARGV[at + 2], ARGV[at + 3]) end
  set('fingerprint', ARGV[at + 2], 'urgency', ARGV[at + 3], 'mouldings', ARGV[at + 4], 'total', ARGV[at + 5],
    'size', ARGV[at + 5], 'limit', ARGV[at + 6], 'members', ARGV[at + 8], 'batch', ARGV[at + 9])
  if ARGV[at + 7] ~= '' then set('shop', ARGV[at + 7]) end
  set('expected', ARGV[at + 10], 'rails', ARGV[at + 12])
  if ARGV[at + 11] ~= '' then set('small', ARGV[at + 11]) end
  if ARGV[at + 13] ~= '' then set('wood', ARGV[at + 13]) end
  redis.call('ZADD', night.open, redis.call('ZSCORE', night.open, night_job), job)
  local holds = {}
  for _, member in ipairs(cjson.decode(ARGV[at + 8])) do
    redis.call('HSET', recordOf(member), 'night', job)
    local own = redis.call('HGET', recordOf(member), 'holds')
    for _, hold in ipairs(own and cjson.decode(own) or {}) do holds[#holds + 1] = hold end
  end
  if #holds > 0 then set('holds', cjson.encode(holds)) end
end
return { 'made' }`,

  /** Settings: close, zone, most milliseconds; each empty for none. when the present pool then closes → set. */
  setNight: `
redis.call('HSET', night.about, 'close', ARGV[1], 'zone', ARGV[2], 'atMost', ARGV[3])
if redis.call('HGET', night.about, 'closes') then redis.call('HSET', night.about, 'closes', ARGV[4]) end
return { 'set' }`,

  /** Pieces held for a quote: a record that ends by itself. id, milliseconds → held. What it held before is let go. */
  holdQuote: `
if get('state') then rackRelease(ARGV[1], 'replaced', 'service') end
redis.call('DEL', key)
create(ARGV[1], '', 'now')
set('state', 'done', 'status', 'complete', 'finished', text(now()), 'shop', '1')
redis.call('PEXPIRE', key, ARGV[2])
return { 'held' }`,

  /** A batch of a closed night that cannot be read ends by itself. failure, retention, night → failed | ended. */
  dropMember: `
if not unfinished() or get('night') ~= ARGV[3] then return { 'ended' } end
del('night')
set('failure', ARGV[1])
conclude('failed', ARGV[2])
return { 'failed' }`,
} as const;
