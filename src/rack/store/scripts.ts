/**
 * What changes the rack happens within Redis in one step each, as Lua: the journal entry and all that is derived from
 * it, or nothing. What an event means is decided in `src/rack/sum.ts`; a script only makes sure that the rack still is
 * as whoever asks has seen it.
 *
 * States: free | gone | reserved BATCH | used BATCH | begun {batch, left, rails, spoiled}
 */
import { RACK_KEYS } from './keys.js';

export const RACK_VERSION = 1;

/** Functions for any script that is given the rack's keys, from the key `first` on. */
export function rackPrelude(first: number): string {
  const keys = RACK_KEYS.map((name, i) => `${name} = KEYS[${first + i}]`).join(', ');
  return `
local rack = { ${keys} }
local function rackNow()
  local time = redis.call('TIME')
  return time[1] * 1000 + math.floor(time[2] / 1000)
end
local function rackNewer()
  local version = tonumber(redis.call('HGET', rack.about, 'version') or '${RACK_VERSION}')
  return version == nil or version > ${RACK_VERSION}
end
local function rackWrite(events)
  local ids = {}
  for i, event in ipairs(events) do ids[i] = redis.call('XADD', rack.journal, '*', 'e', event) end
  redis.call('HINCRBY', rack.about, 'entries', #events)
  redis.call('HSET', rack.about, 'version', '${RACK_VERSION}', 'last', ids[#ids])
  return ids
end
-- Ids of pieces and keys of expected lines that are not as the change has them.
local function rackDiffers(change)
  local found = {}
  for _, p in ipairs(change.pieces) do
    local state = redis.call('HGET', rack.states, p.id) or ''
    if state ~= p.before or (p.revision ~= '' and redis.call('HGET', rack.revisions, p.id) ~= p.revision) then
      found[#found + 1] = p.id
    end
  end
  for _, e in ipairs(change.expected) do
    if (redis.call('HGET', rack.expected, e.key) or '') ~= e.before then found[#found + 1] = e.key end
  end
  return found
end
local function rackCommit(change)
  local ids = rackWrite(change.events)
  for _, p in ipairs(change.pieces) do
    if p.before == 'free' then redis.call('ZREM', rack.free, p.mouldingBefore .. '\\n' .. p.id) end
    if p.holderBefore ~= '' then redis.call('ZREM', rack.held, p.holderBefore .. '\\n' .. p.id) end
    if p.after == 'free' then redis.call('ZADD', rack.free, 0, p.moulding .. '\\n' .. p.id) end
    if p.holder ~= '' then redis.call('ZADD', rack.held, 0, p.holder .. '\\n' .. p.id) end
    redis.call('HSET', rack.states, p.id, p.after)
    if p.text ~= '' then redis.call('HSET', rack.pieces, p.id, p.text) end
    if p.described >= 0 then redis.call('HSET', rack.revisions, p.id, ids[p.described + 1]) end
  end
  for _, e in ipairs(change.expected) do
    if e.after == '' then redis.call('HDEL', rack.expected, e.key)
    else redis.call('HSET', rack.expected, e.key, e.after) end
  end
  for _, w in ipairs(change.wood) do redis.call('HINCRBY', rack.wood, w.field, w.by) end
end
local function rackForget(job)
  redis.call('ZREM', rack.tickets, job)
  redis.call('ZREM', rack.heard, job)
  redis.call('HDEL', rack.claims, job)
end
-- Frees what is reserved for a batch and not begun; what it bought is no longer expected. Answers how many of both.
local function rackRelease(batch, how, who)
  local ids = {}
  for _, member in ipairs(redis.call('ZRANGEBYLEX', rack.held, '[' .. batch .. '\\n', '(' .. batch .. '\\11')) do
    local id = string.sub(member, #batch + 2)
    if redis.call('HGET', rack.states, id) == 'reserved ' .. batch then
      local moulding = cjson.decode(redis.call('HGET', rack.pieces, id)).moulding
      redis.call('HSET', rack.states, id, 'free')
      redis.call('ZREM', rack.held, member)
      redis.call('ZADD', rack.free, 0, moulding .. '\\n' .. id)
      ids[#ids + 1] = id
    end
  end
  local common = { v = 1, who = who, why = cjson.null, batch = batch }
  if #ids > 0 then
    common.kind, common.how, common.pieces = 'released', how, ids
    rackWrite({ cjson.encode(common) })
    common.how, common.pieces = nil, nil
  end
  local own, dropped = batch .. '\\n', 0
  for _, key in ipairs(redis.call('HKEYS', rack.expected)) do
    if string.sub(key, 1, #own) == own then
      local line = cjson.decode(redis.call('HGET', rack.expected, key))
      redis.call('HDEL', rack.expected, key)
      common.kind, common.offer, common.count = 'dropped', line.offer, line.count
      rackWrite({ cjson.encode(common) })
      dropped = dropped + 1
    end
  end
  return #ids + dropped
end
-- Whether an older ticket, heard of lately, wants one of these mouldings; answers how many do.
local function rackBefore(job, mouldings, silence)
  local wanted = {}
  for _, moulding in ipairs(mouldings) do wanted[moulding] = true end
  local since = rackNow() - silence
  local before = 0
  for _, other in ipairs(redis.call('ZRANGE', rack.tickets, 0, -1)) do
    if other == job then break end
    if tonumber(redis.call('ZSCORE', rack.heard, other) or '0') >= since then
      for _, moulding in ipairs(cjson.decode(redis.call('HGET', rack.claims, other) or '[]')) do
        if wanted[moulding] then
          before = before + 1
          break
        end
      end
    end
  end
  return before
end
local function rackTicket(job, mouldings)
  if not redis.call('ZSCORE', rack.tickets, job) then
    redis.call('ZADD', rack.tickets, redis.call('HINCRBY', rack.about, 'ticket', 1), job)
  end
  redis.call('HSET', rack.claims, job, mouldings)
  redis.call('ZADD', rack.heard, string.format('%.0f', rackNow()), job)
end
local function rackHeard(job)
  if redis.call('ZSCORE', rack.tickets, job) then
    redis.call('ZADD', rack.heard, string.format('%.0f', rackNow()), job)
  end
end
`;
}

const SCRIPTS = {
  /**
   * change, mark, and perhaps what is kept beside it under one more key, and for how long
   * → done | newer | differs, then ids of what is no longer as it was.
   */
  commit: `
if redis.call('ZSCORE', rack.recent, ARGV[2]) then return { 'done' } end
if rackNewer() then return { 'newer' } end
local change = cjson.decode(ARGV[1])
local differs = rackDiffers(change)
if #differs > 0 then return { 'differs', unpack(differs, 1, math.min(#differs, 1000)) } end
if #change.events > 0 then rackCommit(change) end
if ARGV[3] then redis.call('SET', KEYS[${RACK_KEYS.length + 1}], ARGV[3], 'PX', ARGV[4]) end
redis.call('ZADD', rack.recent, string.format('%.0f', rackNow()), ARGV[2])
redis.call('ZREMRANGEBYRANK', rack.recent, 0, -1001)
return { 'done' }`,

  /** moulding → version sound or newer, then of each free piece its description and its revision. */
  free: `
if rackNewer() then return { 'newer' } end
local found = { 'free' }
local from = '[' .. ARGV[1] .. '\\n'
for _, member in ipairs(redis.call('ZRANGEBYLEX', rack.free, from, '(' .. ARGV[1] .. '\\11')) do
  local id = string.sub(member, #ARGV[1] + 2)
  found[#found + 1] = redis.call('HGET', rack.pieces, id)
  found[#found + 1] = redis.call('HGET', rack.revisions, id) or ''
end
return found`,

  /** batch, how, who → released, number of pieces | newer. */
  release: `
if rackNewer() then return { 'newer' } end
return { 'released', rackRelease(ARGV[1], ARGV[2], ARGV[3]) }`,

  /** As release, where the batch's record, one more key, is gone → released, number | alive | newer. */
  expire: `
if rackNewer() then return { 'newer' } end
if redis.call('EXISTS', KEYS[${RACK_KEYS.length + 1}]) == 1 then return { 'alive' } end
return { 'released', rackRelease(ARGV[1], 'expired', ARGV[2]) }`,

  /** With as many more keys, made beforehand: they become the rack, where it has no journal → restored | taken. */
  adopt: `
if redis.call('EXISTS', rack.journal) == 1 then return { 'taken' } end
for i = 1, ${RACK_KEYS.length} do
  redis.call('DEL', KEYS[i])
  if redis.call('EXISTS', KEYS[${RACK_KEYS.length} + i]) == 1 then
    redis.call('RENAME', KEYS[${RACK_KEYS.length} + i], KEYS[i])
  end
end
return { 'restored' }`,
} as const;

export type RackScript = keyof typeof SCRIPTS;

export const RACK_SCRIPTS: Readonly<Record<RackScript, string>> = Object.fromEntries(
  Object.entries(SCRIPTS).map(([name, body]) => [name, `${rackPrelude(1)}\n${body}\n`]),
) as Record<RackScript, string>;
