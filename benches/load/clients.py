"""Clients that move controls as the page does, and read the answers. Prints what they met.

Each client has a car and a climate of its own. Of its controls it drags one through a few values, giving up its requests
for those before, waits for the answer to the last, reads it for a moment and goes on to another control.

Arguments: address of the server, its process number, seconds, clients, seconds of reading an answer.
"""

import collections
import http.client
import json
import os
import random
import select
import socket
import sys
import threading
import time
import urllib.parse
import urllib.request

ADDRESS, PROCESS = sys.argv[1], sys.argv[2]
SECONDS, CLIENTS, READING = float(sys.argv[3]), int(sys.argv[4]), float(sys.argv[5])
HOST = urllib.parse.urlsplit(ADDRESS).netloc
PATH = "/api/forecast?histories=32768"
# Between two values of a dragged control [s], and how many.
DRAG, VALUES = 0.06, 3
# Increase of memory that still counts as flat [MiB]: answers kept differ in size.
FLAT_MIB = 16


def memory_mib():
    with open(f"/proc/{PROCESS}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) / 1024 for line in status if line.startswith("VmRSS"))


def cpu_s():
    with open(f"/proc/{PROCESS}/stat", encoding="ascii") as stat:
        return sum(int(field) for field in stat.read().split()[13:15]) / os.sysconf("SC_CLK_TCK")


def controls(choices):
    """What can be moved: where in a case, and to what."""
    arrangements = [one["id"] for one in choices["arrangements"] if one["id"] not in ("custom", "unknown")]
    return {
        ("use", "days_per_week"): list(range(8)),
        ("use", "salted_days"): list(range(0, 150, 10)),
        ("use", "winter_use"): [True, False],
        ("storage",): [[{"arrangement": name}] for name in arrangements],
        ("coating", "system"): [one["id"] for one in choices["coating_systems"]],
        ("coating", "wax_over"): [True, False],
    }


def car(number, choices):
    case = json.loads(json.dumps(choices["case"]))
    case["coating"].pop("condition", None)
    case["title"] = f"car {number}"
    case["climate"] = {"sample": choices["climates"][number % len(choices["climates"])]["id"]}
    return case


def put(case, path, value):
    for key in path[:-1]:
        case = case[key]
    case[path[-1]] = value


class Client:
    """Sends requests over one connection, which it gives up together with a request."""

    def __init__(self):
        self.connection = None

    def send(self, case):
        if self.connection is None:
            self.connection = http.client.HTTPConnection(HOST, timeout=120)
            self.connection.connect()
            self.connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.connection.request("POST", PATH, json.dumps(case), {"Content-Type": "application/json"})

    def give_up(self):
        self.connection.close()
        self.connection = None

    def answered_within(self, seconds):
        return bool(select.select([self.connection.sock], [], [], seconds)[0])

    def answer(self):
        reply = self.connection.getresponse()
        body = reply.read()
        good = reply.status == 200 and len(json.loads(body)["band"]) > 0
        return "answered" if good else str(reply.status)


def drag(client, case, path, values):
    """Time to the answer about the last value [s], and what it was."""
    for value in values[:-1]:
        put(case, path, value)
        client.send(case)
        if client.answered_within(DRAG):
            kind = client.answer()
            if kind != "answered":
                return 0.0, kind
        else:
            client.give_up()
    put(case, path, values[-1])
    begun = time.monotonic()
    client.send(case)
    kind = client.answer()
    return time.monotonic() - begun, kind


def run(number, choices, until, reading, met):
    dice, client, case, known = random.Random(number), Client(), car(number, choices), controls(choices)
    time.sleep(dice.uniform(0, reading))
    while time.monotonic() < until:
        path = dice.choice(list(known))
        try:
            met.append(drag(client, case, path, [dice.choice(known[path]) for _ in range(VALUES)]))
        except (OSError, http.client.HTTPException, ValueError) as error:
            met.append((0.0, type(error).__name__))
            client.give_up()
        time.sleep(dice.uniform(0.5, 1.5) * reading)


def report(name, met):
    times = sorted(1000 * seconds for seconds, kind in met if kind == "answered")
    part = lambda share: times[min(len(times) - 1, int(share * len(times)))]
    kinds = dict(collections.Counter(kind for _, kind in met))
    print(f"{name}: {len(met)} moves, {kinds}; p50 {part(0.5):.0f} ms, p95 {part(0.95):.0f} ms, most {times[-1]:.0f} ms")
    return set(kinds) == {"answered"}


def main():
    with urllib.request.urlopen(f"{ADDRESS}api/choices") as reply:
        choices = json.load(reply)
    print(f"load average at the start {os.getloadavg()[0]:.1f}")
    alone = []
    run(0, choices, time.monotonic() + 3, 0, alone)
    report("one client", alone)
    met, begun, used = [], time.monotonic(), cpu_s()
    until = begun + SECONDS
    threads = [threading.Thread(target=run, args=(n, choices, until, READING, met)) for n in range(1, CLIENTS + 1)]
    [thread.start() for thread in threads]
    memory = []
    while time.monotonic() < until:
        time.sleep(SECONDS / 6)
        memory.append(memory_mib())
    [thread.join() for thread in threads]
    good = report(f"{CLIENTS} clients, {SECONDS:.0f} s, reading for {READING:g} s", met)
    print(f"processors used: {(cpu_s() - used) / (time.monotonic() - begun):.2f}")
    print(f"memory [MiB]: {', '.join(f'{mib:.0f}' for mib in memory)}")
    # the first readings are taken while buffers and the cache of answers still fill
    if not good or memory[-1] > memory[len(memory) // 2] + FLAT_MIB:
        sys.exit("there were errors, or memory grew")


main()
