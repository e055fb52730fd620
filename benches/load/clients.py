"""Clients that move a control, ask, look at the answer and move on. Prints what they met.

Arguments: address of the server, its process number, seconds, clients.
"""

import http.client
import json
import random
import statistics
import sys
import threading
import time
import urllib.parse
import urllib.request

ADDRESS, PROCESS, SECONDS, CLIENTS = sys.argv[1], sys.argv[2], float(sys.argv[3]), int(sys.argv[4])
HOST = urllib.parse.urlsplit(ADDRESS).netloc


def memory_mib():
    with open(f"/proc/{PROCESS}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) / 1024 for line in status if line.startswith("VmRSS"))


def client(number, choices, until, answers):
    dice = random.Random(number)
    connection = http.client.HTTPConnection(HOST, timeout=60)
    while time.monotonic() < until:
        case = json.loads(json.dumps(choices["case"]))
        case["coating"].pop("condition", None)
        case["use"]["days_per_week"] = dice.randrange(8)
        case["use"]["salted_days"] = dice.randrange(0, 150)
        case["climate"]["sample"] = dice.choice(choices["climates"])["id"]
        arrangement = dice.choice([one["id"] for one in choices["arrangements"]][:8])
        case["storage"] = [{"arrangement": arrangement}]
        begun = time.monotonic()
        try:
            path = "/api/forecast?histories=32768"
            connection.request("POST", path, json.dumps(case), {"Content-Type": "application/json"})
            reply = connection.getresponse()
            body = reply.read()
            good = reply.status == 200 and len(json.loads(body)["band"]) > 0
            answers.append((time.monotonic() - begun, "answered" if good else str(reply.status)))
            if reply.status == 503:
                time.sleep(float(reply.headers["Retry-After"]))
        except (OSError, http.client.HTTPException, ValueError) as error:
            answers.append((time.monotonic() - begun, type(error).__name__))
            connection.close()


def main():
    with urllib.request.urlopen(f"{ADDRESS}api/choices") as reply:
        choices = json.load(reply)
    answers = []
    client(0, choices, time.monotonic() + 2, answers)
    alone = [1000 * seconds for seconds, _ in answers]
    print(f"one client: {len(alone)} answers, median {statistics.median(alone):.0f} ms")
    answers.clear()
    before = memory_mib()
    until = time.monotonic() + SECONDS
    threads = [
        threading.Thread(target=client, args=(number, choices, until, answers)) for number in range(1, CLIENTS + 1)
    ]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    times = sorted(1000 * seconds for seconds, _ in answers)
    kinds = {kind: sum(1 for _, found in answers if found == kind) for kind in {kind for _, kind in answers}}
    print(f"{CLIENTS} clients, {SECONDS:.0f} s: {len(answers)} requests, {kinds}")
    print(f"time to answer: p50 {times[len(times) // 2]:.0f} ms, p95 {times[len(times) * 95 // 100]:.0f} ms")
    print(f"memory: {before:.0f} MiB at the start, {memory_mib():.0f} MiB at the end")
    if set(kinds) - {"answered", "503"}:
        sys.exit("there were errors")


main()
