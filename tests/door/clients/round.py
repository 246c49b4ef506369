"""The whole round with Python's standard library alone: hand in, watch, fetch.  python3 round.py URL ORDER.json [KEY]"""
import json
import sys
import urllib.error
import urllib.parse
import urllib.request


def ask(method, path, body=None, accept="application/json"):
    headers = {"Accept": accept, **({"Authorization": f"Bearer {KEY}"} if KEY else {})}
    data = None
    if body is not None:
        data, headers["Content-Type"] = json.dumps(body).encode(), "application/json"
    request = urllib.request.Request(URL + path, data, headers, method=method)
    try:
        return urllib.request.urlopen(request, timeout=90)
    except urllib.error.HTTPError as error:
        return error  # status, and problem details in the body


if len(sys.argv) < 3:
    sys.exit(__doc__)
URL, ORDER, KEY = sys.argv[1], sys.argv[2], sys.argv[3] if len(sys.argv) > 3 else ""
with open(ORDER, encoding="utf-8") as file:
    batch = json.load(file)

taken = ask("POST", "/v1/batches", batch)
answer = json.load(taken)
if taken.status not in (200, 202):
    sys.exit(f"{answer['code']}: {answer['detail']} {answer['problems']}")
print(taken.status, answer["state"])

state = None
with ask("GET", answer["links"]["events"], accept="text/event-stream") as events:
    for line in events:
        if line.startswith(b"event: "):
            state = line[7:].decode().strip()
print(state)

plan = json.load(ask("GET", answer["links"]["result"]))
print(plan["status"], plan["totals"]["cost"])
page = ask("GET", answer["links"]["result"], accept="text/plain").read().decode()
print(page.splitlines()[0][:9])
refused = ask("POST", "/v1/batches", {**batch, "units": "yd"})
print(refused.status, json.load(refused)["code"])
missing = ask("GET", "/v1/batches/" + urllib.parse.quote("not there/at all", safe=""))
print(missing.status, json.load(missing)["code"])
