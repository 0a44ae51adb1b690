-- Sends the bodies of a file, a line each, in rotation, from the line given on;
-- prints what came of it as one line of JSON.
local requests, place = {}, 0

function init(arguments)
  wrk.method = "POST"
  for line in io.lines(arguments[1]) do
    requests[#requests + 1] = wrk.format(nil, nil, nil, line)
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
