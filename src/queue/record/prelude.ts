/** Lua functions that every script of a record begins with (`scripts.ts`). */
import { RACK_KEYS } from '../../rack/store/keys.js';
import { rackPrelude } from '../../rack/store/scripts.js';
import { NIGHT_KEYS } from '../night/keys.js';
import { nightPrelude } from '../night/scripts.js';
import { LUA_FIELDS } from './fields.js';

/** Of records as this version writes them. One with a higher number is left to the newer workers that wrote it. */
export const FORMAT = 1;

/** Changes kept of all batches together: who submitted, cancelled and so on. */
const AUDIT_KEPT = 10_000;

export const PRELUDE = `
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
  -- Promised no more; what was taken beyond its share comes off the next ones.
  local share = get(F.allotted .. i)
  if share then
    local had = math.max(0, tonumber(share) - count(F.used .. i))
    if had > 0 then add('promised', -had) end
    add('beyond', math.max(0, used - had))
    add('ended', 1)
  end
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
  letGoOf(key)
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
  del('failure', 'partial', 'plan', 'status', 'cost', 'seconds', 'finished', 'started', 'round', 'left', 'night', 'holds')
  set('state', 'waiting', 'done', finished, 'failed', 0, 'open', 0, 'openSum', 0, 'spent', 0,
    'promised', 0, 'beyond', 0, 'ended', 0, 'submitted', text(now()))
  add('run', 1)
  redis.call('PERSIST', key)
end
-- What a quote holds for the batch no longer ends by itself. hold: job id, or empty.
local function keepHold(hold)
  if hold == '' or redis.call('EXISTS', recordOf(hold)) == 0 then return end
  redis.call('PERSIST', recordOf(hold))
  set('holds', cjson.encode({ hold }))
end
`;

/** With PRELUDE: a batch leaves its night, which is as if it had just closed with the others. */
export const LEAVE = `
local function renew()
  for _, field in ipairs(redis.call('HKEYS', key)) do
    local letter = string.match(field, '^(%a):%d+$')
    if letter and letter .. ':' ~= F.fence then del(field) end
  end
  del('batch', 'mouldings', 'total', 'size', 'limit', 'shop', 'expected', 'small', 'arrived', 'attempts', 'holds', 'failure',
    'partial', 'plan', 'status', 'cost', 'seconds', 'finished', 'started', 'round', 'left', 'phase', 'wood')
  set('state', 'waiting', 'fingerprint', '', 'done', 0, 'failed', 0, 'open', 0, 'openSum', 0, 'spent', 0,
    'promised', 0, 'beyond', 0, 'ended', 0)
  -- An attempt at what was planned before writes nothing here.
  add('run', 1)
  redis.call('PERSIST', key)
  tell('waiting')
end
-- Answers how many batches are left in the night, and its run. Where none is, it is cancelled.
local function leaveNight(job, retention, channel)
  local own, night_job = key, get('night')
  del('night')
  key = recordOf(night_job)
  local rest = {}
  for _, member in ipairs(cjson.decode(get('members') or '[]')) do
    if redis.call('HGET', recordOf(member), 'night') == night_job then rest[#rest + 1] = member end
  end
  rackForget(night_job)
  if get('shop') == '1' then rackRelease(get('id'), 'replaced', 'service') end
  redis.call('PUBLISH', channel, night_job)
  if #rest == 0 then
    set('members', '[]')
    conclude('cancelled', retention)
  else
    set('members', cjson.encode(rest))
    renew()
    redis.call('ZADD', night.open, redis.call('HGET', night.about, 'nights') or '0', night_job)
    for _, member in ipairs(rest) do
      local record = recordOf(member)
      -- What is to come is another result than the one that was told.
      if redis.call('HGET', record, 'state') == 'done' then redis.call('HINCRBY', record, 'run', 1) end
      redis.call('HSET', record, 'state', 'running')
      redis.call('HDEL', record, 'finished', 'status', 'cost')
      redis.call('PERSIST', record)
      redis.call('PUBLISH', record .. ':events', 'running')
    end
  end
  local run = count('run')
  key = own
  return #rest, run
end
`;

/** With PRELUDE: the record of other content makes room, and stays under its revision. */
export const SUPERSEDE = `
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
  local run, revision, holds = count('run'), math.max(1, count('revision')), get('holds')
  del('holds')
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
  if holds then set('holds', holds) end
end
-- In a night that has closed: whatever happens to it happens to all of the night.
local function inNight() local s = get('state') return get('night') and (unfinished() or s == 'done') end
local function isFree() local s = get('state') return s == 'failed' or s == 'cancelled' end
`;
