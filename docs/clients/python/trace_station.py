#!/usr/bin/env python3
"""A station's way to the traceability service, with Python's standard library alone (3.8 or newer).

It does: keep every fact in an outbox on disk, synced before record() returns; send in order, in batches; send the same bytes again while there
is no answer or a 5xx, and never after a refusal; wait as long as Retry-After says; measure the station's clock; ask for receipts
until each fact is recorded; keep aside, and tell, what does not count.

It does not: check content (the service does); sign people on, so an act arrives as a claim; ask again about what was set aside; number
entries; delete anything from the outbox. One outbox is one station and one thread; a second process on it sends twice and doubles nothing.

    export TRACE_STATION_KEY=...     # never on the command line, which others on the machine can read
    trace_station.py --service URL --device form-1 --source /plant/form-1 form.oiled.v1 '{"form":"F-1","unit":"U-1","releaseAgent":"A"}'
"""
import argparse, datetime, http.client, json, os, sqlite3, sys, time, urllib.error, urllib.request, uuid

LARGEST, BATCH = 256 * 1024, 30                 # bytes of one fact, facts of one request: together under the service's 8 MiB
MEASURE_EVERY, OFFSET_HOLDS = 600, 12 * 3600    # seconds; facts go without an older measurement of the clock
UNKNOWN_FOR = 20                                # seconds; what was taken in and is still unknown then is sent again
NEXT = {"recorded": "recorded", "duplicate": "recorded", "received": "sent", "weighing": "sent", "unknown": "sent"}    # any other sets a fact aside


class Refused(Exception):
    """The service refused the request as a whole: somebody has to act before it is sent again. The outbox keeps everything."""


class Away(Exception):
    """No answer, or a 5xx, until patience ran out. The outbox keeps everything; call deliver() again later."""


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_):
        return None    # the key must not follow to another address


class Station:
    """One station. patience is how many seconds deliver() goes on trying; tell is called with a sentence for each fact set aside."""

    def __init__(self, service, device, key, source, outbox, patience=60, tell=lambda sentence: print(sentence, file=sys.stderr)):
        self.service, self.source, self.patience, self.tell = service.rstrip("/"), source, patience, tell
        self._headers = {"X-Device-Id": device, "X-Device-Key": key}
        self._open, self._offset = urllib.request.build_opener(_NoRedirect).open, None
        self._box = sqlite3.connect(outbox, timeout=30, isolation_level=None)
        self._box.execute("pragma synchronous=extra")    # the file and its folder are synced at every commit
        self._box.execute("create table if not exists fact (n integer primary key, id text unique not null, body text not null, state text not null default 'waiting', why text)")

    def record(self, type, data, person=None, id=None, at=None):
        """Puts a fact into the outbox and returns its id. Needs no network. A known id keeps its first content. ValueError: it is no JSON, or too large."""
        at = (at or datetime.datetime.now()).astimezone()    # never a bare local time
        fact = {"specversion": "1.0", "id": id or str(uuid.uuid4()), "source": self.source, "type": type,
                "time": at.isoformat(timespec="milliseconds"), "datacontenttype": "application/json", "data": data}
        if person:
            fact["person"] = person
        # Neither an old measurement nor one from before the clock was set.
        if self._offset and time.monotonic() - self._offset[1] < OFFSET_HOLDS and abs(time.time() - time.monotonic() - self._offset[2]) < 1:
            fact["clockoffsetms"] = self._offset[0]
        body = json.dumps(fact, allow_nan=False)
        if len(body) > LARGEST:
            raise ValueError(f"A fact has at most {LARGEST} bytes, this one {len(body)}. Attach documents by reference.")
        self._box.execute("insert or ignore into fact (id, body) values (?, ?)", (fact["id"], body))
        return fact["id"]

    def state(self, id):
        """(state, why) of a fact: waiting, sent, recorded or aside."""
        return self._box.execute("select state, why from fact where id = ?", (id,)).fetchone()

    def measure_clock(self):
        """Station clock minus service clock. Where there is no answer facts go without, and their times are trusted less."""
        try:
            before = time.time()
            with self._open(self.service + "/v1/time", timeout=5) as answer:
                now, after = json.load(answer)["now"], time.time()
            service = datetime.datetime.fromisoformat(now[:19] + "+00:00").timestamp() + float("0" + now[19:-6])
            self._offset = (round(((before + after) / 2 - service) * 1000), time.monotonic(), time.time() - time.monotonic())
        except (OSError, ValueError, KeyError, http.client.HTTPException):
            pass

    def deliver(self):
        """Sends what waits and asks until each fact is recorded or set aside. Returns how many were set aside; raises Refused or Away."""
        aside, until, most = 0, time.monotonic() + self.patience, BATCH
        if not self._offset or time.monotonic() - self._offset[1] > MEASURE_EVERY:
            self.measure_clock()
        while True:
            if batch := self._facts("waiting", most):
                try:
                    receipts = self._ask("/v1/facts", "application/cloudevents-batch+json", "[" + ",".join(b for _, b in batch) + "]", len(batch), until)
                except Refused as e:
                    if e.args[1] not in (400, 422):
                        raise
                    most, receipts = 1, [{"status": "refused", "problem": {"detail": e.args[0]}}]
                    if len(batch) > 1:
                        continue    # one of them spoils its batch: alone, it is found
                aside += sum(self._note(i, r) for (i, _), r in zip(batch, receipts))
            elif sent := [i for i, _ in self._facts("sent", BATCH)]:
                asked = time.monotonic()
                while sent:
                    receipts = self._ask("/v1/receipts", "application/json", json.dumps([{"source": self.source, "id": i} for i in sent]), len(sent), until)
                    aside += sum(self._note(i, r) for i, r in zip(sent, receipts))
                    sent = [i for i, r in zip(sent, receipts) if NEXT.get(r["status"]) == "sent"]
                    if sent and time.monotonic() - asked > UNKNOWN_FOR:    # the same fact again gets the same receipt
                        self._box.executemany("update fact set state = 'waiting' where id = ?", [(i,) for i in sent])
                        break
                    if sent:
                        self._pause(1, until, "The facts were taken in and are not recorded yet.")
            else:
                return aside

    def _facts(self, state, most):
        return self._box.execute("select id, body from fact where state = ? order by n limit ?", (state, most)).fetchall()

    def _note(self, id, receipt):
        state = NEXT.get(receipt["status"], "aside")
        why = f"{receipt['status']}: {receipt.get('problem', {}).get('detail', 'no reason was given')}" if state == "aside" else None
        self._box.execute("update fact set state = ?, why = ? where id = ?", (state, why, id))
        if why:
            self.tell(f"{id} does not count and is kept aside. {why}")
        return bool(why)

    def _ask(self, path, media, body, count, until):
        """The receipts, in the order of the facts. Tries again while the service is away."""
        pause = 1
        while True:
            wait = ""
            try:
                with self._open(urllib.request.Request(self.service + path, body.encode(), {**self._headers, "Content-Type": media}), timeout=30) as answer:
                    receipts = json.load(answer)
                if isinstance(receipts, list) and len(receipts) == count:
                    return receipts
                said = "the answer is not this service's"
            except urllib.error.HTTPError as e:
                wait = e.headers.get("Retry-After") or ""
                try:
                    said = f"{e.code}: {json.load(e)['detail']}"
                except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
                    said = f"{e.code}: {e.reason}"
                if e.code < 500 and e.code not in (408, 429):
                    raise Refused(f"{path} was refused. {said}", e.code) from None
            except (OSError, ValueError, http.client.HTTPException) as e:    # no connection, no answer in time, one that broke off
                said = getattr(e, "reason", e)
            self._pause(int(wait) if wait.isdigit() else pause, until, said)
            pause = min(pause * 2, 60)

    def _pause(self, seconds, until, said):
        if time.monotonic() + seconds > until:
            raise Away(f"Given up for now: {str(said).rstrip('.')}.")
        time.sleep(seconds)


def main():
    """Sends one fact, after whatever waited before it. Exit code 0: recorded; 1: refused or set aside; 75: away, kept for later."""
    say = argparse.ArgumentParser(description=main.__doc__)
    for name, more in {"--service": {"required": True}, "--device": {"required": True}, "--source": {"required": True}, "--outbox": {"default": "outbox.db"},
                       "--patience": {"type": float, "default": 60}, "--id": {}, "--person": {}, "type": {}, "data": {"type": json.loads}}.items():
        say.add_argument(name, **more)
    said = say.parse_args()
    key = os.environ.get("TRACE_STATION_KEY") or say.error("TRACE_STATION_KEY is not set")
    station = Station(said.service, said.device, key, said.source, said.outbox, said.patience)
    station.measure_clock()
    fact = station.record(said.type, said.data, said.person, said.id)
    try:
        aside = station.deliver()
    except (Refused, Away) as e:
        print(f"{e.args[0]} {fact} is kept in {said.outbox}.", file=sys.stderr)
        return 1 if isinstance(e, Refused) else 75
    print(fact, *filter(None, station.state(fact)))
    return 0 if aside == 0 and station.state(fact)[0] == "recorded" else 1


if __name__ == "__main__":
    sys.exit(main())
