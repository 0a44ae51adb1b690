-- Sends the bodies of a file, a line each, in rotation, from the line given on; for a
-- GET a line is an address and, after a space, the entity tag that is known of it;
-- prints what came of it as one line of JSON.
local requests, place = {}, 0

function init(arguments)
  wrk.method = arguments[3]
  for line in io.lines(arguments[1]) do
    local path, body = nil, line
    if wrk.method == "GET" then
      local address, tag = line:match("^(%S+) ?(.*)$")
      path, body = address, nil
      wrk.headers["If-None-Match"] = tag ~= "" and tag or nil
    end
    requests[#requests + 1] = wrk.format(nil, path, nil, body)
  end
  place = tonumber(arguments[2])
end

function request()
  place = place % #requests + 1
  return requests[place]
end

function done(summary, latency, _)
  local errors, bad = summary.errors, 0
  for _, kind in ipairs({"connect", "read", "write", "status", "timeout"}) do
    bad = bad + errors[kind]
  end
  print(string.format(
    '{"answers": %d, "seconds": %f, "bad": %d, "p50_ms": %f, "p99_ms": %f}',
    summary.requests, summary.duration / 1e6, bad,
    latency:percentile(50) / 1e3, latency:percentile(99) / 1e3))
end
