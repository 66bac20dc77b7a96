"""Is it admissible? The rules of lib/trust/REASONS.md, in the order in which lib/trust/*.h states
them: the container's form, sign-offs, manifest, contents; allotment; settings; blocks."""

import hashlib

import container
import units
from ed25519_form import signature_form_ok, verifies
from sealed import Refusal, parse

NOT_SHIP = "NOT SHIP"
ENGINEERING_UNITS = 20
MAX_JUMP = 1000
KEPT = 4
MOST_STOPS, FREE_STOPS, MOST_MARKS = 32, 8, 8  # lib/format/SPEC-station.md


def digest(data):
    return "sha256:" + hashlib.sha256(data).hexdigest()


def need(good, reason, position=0, note=""):
    if not good:
        raise Refusal(reason, position, note)


# Root and trust list


def judge_root_signatures(root, kind, text, signatures):
    persons = set()
    before = ""
    for signature in signatures:
        need(signature_form_ok(signature), 321)
        signer = next((k for k in root["key"] if verifies(k[0], kind, text, signature)), None)
        need(signer is not None, 322)
        need(signer[0] > before, 323)
        before = signer[0]
        persons.add(signer[1])
    need(len(persons) >= root["threshold"], 303)


class Root:
    def __init__(self, text, signatures):
        self.text = text
        self.values = parse("root", text)
        self.owner = self.values["owner"] or digest(text)
        judge_root_signatures(self.values, "root", text, signatures)


def persons_signed(root, text, signatures):
    return {key[1] for key in root["key"] for s in signatures
            if signature_form_ok(s) and verifies(key[0], "root", text, s)}


def next_root(now, text, signatures):
    """The Root after `now`: SPEC.md, kind root. Nothing is parsed before the old threshold."""
    need(len(text) <= 8192, 101)
    need(len(persons_signed(now.values, text, signatures)) >= now.values["threshold"], 309)
    values = parse("root", text)
    need(values["owner"] == now.owner, 301)
    need(values["version"] == now.values["version"] + 1 and
         values["previous"] == digest(now.text), 310)
    keys = sorted({key[0] for key in values["key"] + now.values["key"]})
    before = ""
    for signature in signatures:
        need(signature_form_ok(signature), 321)
        signer = next((k for k in keys if verifies(k, "root", text, signature)), None)
        need(signer is not None, 322)
        need(signer > before, 323)
        before = signer
    need(len(persons_signed(values, text, signatures)) >= values["threshold"], 309)
    root = Root.__new__(Root)
    root.text, root.values, root.owner = text, values, now.owner
    return root


def judge_trust(root, text, signatures):
    judge_root_signatures(root.values, "trust", text, signatures)
    trust = parse("trust", text)
    need(trust["owner"] == root.owner, 304)
    need(trust["root-version"] == root.values["version"], 305)
    windows = trust["window"]
    need(not any(a[1] == b[1] and a[2] <= b[3] and b[2] <= a[3]
                 for i, a in enumerate(windows) for b in windows[:i]), 308)
    return trust


def find_signer(trust, kind, text, signature):
    need(signature_form_ok(signature), 321)
    for key in trust["key"]:
        if verifies(key[0], kind, text, signature):
            return key
    raise Refusal(322)


def find_allot_signer(trust, kind, text, signature, bad):
    """Of a text that only an active key of role allot may sign."""
    need(signature_form_ok(signature), 321)
    try:
        signer = find_signer(trust, kind, text, signature)
    except Refusal:
        raise Refusal(bad) from None
    need(signer[2] == "allot" and signer[4] == "active", bad)
    return signer


# Withdrawals


def judge_withdrawal(root, trust, text, signature):
    """What it stops, as its kind and the digest or the key's digits; and the key that signed."""
    need(signature_form_ok(signature), 321)
    signer = next((k for k in trust["key"] if verifies(k[0], "withdrawal", text, signature)), None)
    need(signer is not None and signer[2] in ("quality", "withdraw") and signer[4] == "active", 331)
    withdrawal = parse("withdrawal", text)
    need(withdrawal["owner"] == root.owner, 332)
    need(withdrawal["person"] == signer[1], 333)
    kind = next(k for k in ("manifest", "key", "allotment") if withdrawal[k])
    return (kind, withdrawal[kind]), signer[0]


def holds_stop(trust, stop):
    kind, value = stop
    return (kind == "manifest" and (value,) in trust["manifest"] or
            kind == "key" and any(k[0] == value and k[4] == "revoked" for k in trust["key"]))


def stop_keys(trust, station):
    """A withdrawn key counts as a revoked one."""
    trust["key"] = [k[:4] + ("revoked",) if station.is_stopped(("key", k[0])) else k
                    for k in trust["key"]]


# Sign-offs


class Verdict:
    def __init__(self):
        self.signoffs = []  # parsed
        self.engineering = False

    def limiting(self):
        """Those whose limits count: quality's, in engineering its own."""
        role = "engineering" if self.engineering else "quality"
        return [s for s in self.signoffs if s["role"] == role]

    def units_a_station(self):
        return min((s["units-a-station"] for s in self.limiting()
                    if s["units-a-station"] is not None), default=None)

    def numbers(self):
        ranges = [s["numbers"] for s in self.limiting() if s["numbers"] is not None]
        if not ranges:
            return None
        return max(r[0] for r in ranges), min(r[1] for r in ranges)


def judge_signoff(root, trust, text, signature, manifest_digest):
    key, person, role, product, state = find_signer(trust, "signoff", text, signature)
    signoff = parse("signoff", text)
    need(signoff["owner"] == root.owner, 344)
    need(signoff["manifest"] == manifest_digest, 345)
    need(signoff["trust-sequence"] <= trust["sequence"], 356)
    need(state == "active", 355)
    need(signoff["role"] == role, 348)
    need(signoff["person"] == person, 349)
    need(signoff["key"] == key, 350)
    need(product is None or product == signoff["product"], 352)
    return signoff


def threshold(trust, role):
    stated = [count for word, count in trust["threshold"] if word == role]
    return max([1] + stated)


def judge_signoffs(root, trust, package):
    manifest_digest = digest(package.manifest)
    verdict = Verdict()
    order = {"release": 0, "quality": 1}
    before = None
    for text, signature in package.signoffs:
        signoff = judge_signoff(root, trust, text, signature, manifest_digest)
        role = signoff["role"]
        need(role in ("release", "quality", "engineering"), 348)
        if verdict.signoffs:
            last = verdict.signoffs[-1]["role"]
            mixed = (role == "engineering") != (last == "engineering")
            need(not mixed and order.get(role, 0) >= order.get(last, 0), 354)
        need(signoff["previous"] == before, 351)
        before = digest(text)
        verdict.signoffs.append(signoff)

    def persons(role):
        return {s["person"] for s in verdict.signoffs if s["role"] == role}
    verdict.engineering = bool(persons("engineering"))
    if verdict.engineering:
        need(len(persons("engineering")) >= threshold(trust, "engineering"), 353)
    else:
        need(len(persons("release")) >= threshold(trust, "release"), 341)
        need(len(persons("quality")) >= threshold(trust, "quality"), 342)
        need(not persons("release") & persons("quality"), 343)
    return verdict


# Manifest


def overlap(a_first, a_size, b_first, b_size):
    return a_first < b_first + b_size and b_first < a_first + a_size


def segments_ok(manifest):
    end = -1
    for address, size in manifest["segment"]:
        if address <= end or address + size > 1 << 32:
            return False
        end = address + size
    return sum(size for _, size in manifest["segment"]) == manifest["image"][0]


def placements_ok(manifest):
    """Whether a number fits its digits and bytes is asked of the ordinals given out (391)."""
    taken = []
    for placement in manifest["placement"]:
        region, address, size = placement[:3]
        if not units.placement_fits(manifest, placement) or address + size > 1 << 32:
            return False
        if any(region == r and overlap(address, size, a, n) for r, a, n in taken):
            return False
        taken.append((region, address, size))
    return True


def judge_manifest(root, trust, text, verdict):
    manifest = parse("manifest", text)
    need(manifest["owner"] == root.owner, 361)
    for signoff in verdict.signoffs:
        need(signoff["product"] == manifest["product"], 346)
        need((signoff["epoch"], signoff["sequence"]) ==
             (manifest["epoch"], manifest["sequence"]), 347)
    need(all(digest(text) != w for (w,) in trust["manifest"]), 362)
    product = next((p for p in trust["product"] if p[0] == manifest["product"]), None)
    need(product is not None, 363)
    need(manifest["epoch"] == product[1], 364)
    need(manifest["sequence"] >= product[2], 365)
    need(manifest["title"].startswith(NOT_SHIP) == verdict.engineering, 369)
    need(segments_ok(manifest), 370)
    need(placements_ok(manifest), 371)
    return manifest


def judge_contents(manifest, package):
    size, _ = manifest["image"]
    need(len(package.image) == size, 208)
    need(len(package.chain) == 32 * len(container.blocks(package.image)), 208)
    need("sha256:" + package.chain[:32].hex() == manifest["chain-head"], 208)
    need((len(package.facts), digest(package.facts)) == manifest["facts"], 208)
    found = [(name, len(content), digest(content)) for name, content in package.documents]
    need(found == manifest["file"], 208)


class Judged:
    def __init__(self, package, manifest, verdict):
        self.package, self.manifest, self.verdict = package, manifest, verdict
        self.digest = digest(package.manifest)

    def image(self):
        """Proved block by block; its digest comes last."""
        head = bytes.fromhex(self.manifest["chain-head"][7:])
        image = container.streamed(self.package.image, self.package.chain, head)
        return image


def judge_package(root, trust, data):
    """All that desk and station have in common; the image is proved by Judged.image()."""
    package = container.read(data)
    verdict = judge_signoffs(root, trust, package)
    manifest = judge_manifest(root, trust, package.manifest, verdict)
    judge_contents(manifest, package)
    return Judged(package, manifest, verdict)


def judge_package_at_desk(root, trust, data):
    judged = judge_package(root, trust, data)
    need(digest(judged.image()) == judged.manifest["image"][1], 208)
    facts = parse("facts", judged.package.facts)
    for key in ("owner", "product", "release"):
        need(facts[key] == judged.manifest[key], 208)
    return judged


# The work


class Station:
    """What a station knows: enrolment and limits, and what it has met before."""

    def __init__(self, name, model, enrolment, slots, supply, own_supply_ok=False, no_log=False):
        self.name, self.model, self.enrolment = name, model, enrolment
        self.slots = slots  # mask
        self.supply_low, self.supply_high, self.supply_step = supply
        self.own_supply_ok = own_supply_ok
        self.no_log = no_log  # it writes nothing on a card
        self.kept = []       # (serial, ordinals used, units started, digest), ascending
        self.marks = {}      # product: (epoch, sequence, manifest)
        self.stops = []      # marks of what was withdrawn, in the order in which they were met
        self.root = None     # Root of enrolment, or a newer one that a card brought
        self.trust = None    # text of the newest list met
        self.writable = True

    def trust_place(self):
        values = parse("trust", self.trust)
        return values["root-version"], values["sequence"]

    def is_stopped(self, stop):
        return mark_of(stop) in self.stops

    def keep_root(self, root):
        need(self.writable, 603)
        self.root = root

    def keep_stop(self, stop):
        need(len(self.stops) < MOST_STOPS, 604)
        need(self.writable, 603)
        self.stops.append(mark_of(stop))

    def keep_trust(self, trust, text):
        """The stops anew: SPEC-station.md, "The mark of a stop"."""
        need(self.writable, 603)
        manifests = [mark_of(("manifest", m)) for (m,) in trust["manifest"]]
        held = manifests + [mark_of(("key", k[0])) for k in trust["key"] if k[4] == "revoked"]
        room = max(0, MOST_STOPS - FREE_STOPS - sum(s not in held for s in self.stops))
        kept = []
        for stop in self.stops + [m for m in manifests if m not in self.stops]:
            if stop in held:
                if room == 0:
                    continue
                room -= 1
            kept.append(stop)
        self.stops = kept
        self.trust = text


def mark_of(stop):
    kind, value = stop
    return hashlib.sha256(kind[:1].replace("m", "p").encode() +
                          bytes.fromhex(value.removeprefix("sha256:"))).digest()


def judge_mark(station, judged):
    manifest = judged.manifest
    need(not station.is_stopped(("manifest", judged.digest)), 362)
    mark = station.marks.get(manifest["product"])
    if mark is None:
        need(len(station.marks) < MOST_MARKS, 604)
        return
    epoch, sequence, known = mark
    need((manifest["epoch"], manifest["sequence"]) >= (epoch, sequence), 366)
    if manifest["epoch"] == epoch:
        need(manifest["sequence"] != sequence or judged.digest == known, 367)
        need(manifest["sequence"] <= sequence + MAX_JUMP, 368)


def numbers_of(allotment):
    if allotment["span"]:
        return allotment["first"], allotment["span"][-1][1]
    return allotment["first"], allotment["first"] + allotment["count"] - 1


def judge_numbers(trust, signer, judged, allotment):
    scheme = judged.manifest["scheme"]
    if scheme is None:
        return
    first, last = numbers_of(allotment)
    use = "engineering" if allotment["class"] == "engineering" else "shipment"
    need(any(w[0] == signer[0] and w[1] == scheme[0] and w[4] == use
             and w[2] <= first and last <= w[3] for w in trust["window"]), 390)
    need(last < scheme[3], 391)


def numbers_allowed(judged, allotment):
    limits = judged.verdict.numbers()
    if judged.manifest["scheme"] is None or limits is None:
        return True
    first, last = numbers_of(allotment)
    return limits[0] <= first and last <= limits[1]


def judge_allotment(root, trust, station, judged, card_id, text, signature):
    signer = find_allot_signer(trust, "allotment", text, signature, 381)
    a = parse("allotment", text)
    manifest = judged.manifest
    scheme = manifest["scheme"]
    need(a["owner"] == root.owner, 382)
    need(a["manifest"] == judged.digest, 383)
    need(a["product"] == manifest["product"], 384)
    need(signer[3] is None or signer[3] == a["product"], 352)
    need(a["scheme"] == (scheme[0] if scheme else None), 385)
    need(a["card"] == card_id, 386)
    need((a["class"] == "engineering") == judged.verdict.engineering, 393)
    need(a["class"] != "engineering" or a["units"] <= ENGINEERING_UNITS, 393)
    need(a["numbers"] == "new" or a["class"] == "rework", 393)
    judge_numbers(trust, signer, judged, a)
    need(scheme is None or a["units"] <= a["count"], 396)
    need(units.date_code_fits(manifest, a["date-code"]), 397)
    most = judged.verdict.units_a_station()
    need(most is None or a["units"] <= most, 392)
    need(numbers_allowed(judged, a), 392)
    enabled = int(a["enabled-slots"], 16)
    need(enabled != 0 and enabled & ~int(manifest["slots"], 16) == 0, 394)
    need(a["station"] == station.name, 387)
    need(a["enrolment"] == station.enrolment, 388)
    used = judge_serial(station, a, text)
    need(used[1] < a["units"], 395)
    return a, used


def judge_serial(station, allotment, text):
    """What of this allotment was begun here before: (ordinals, units)."""
    for serial, ordinals, begun, known in station.kept:
        if serial == allotment["serial"]:
            need(known == digest(text), 389)
            return ordinals, begun
    full = len(station.kept) == KEPT
    need(not full or allotment["serial"] > station.kept[0][0], 389)
    return 0, 0


def judge_units(manifest, allotment):
    """First and last unit can be spelled and stored."""
    if manifest["scheme"] is None:
        return
    for ordinal in numbers_of(allotment):
        units.text_of(manifest, ordinal, allotment)
        for placement in manifest["placement"]:
            units.bytes_of(manifest, placement, ordinal, allotment)


def judge_settings(station, manifest):
    need((station.model,) in manifest["station-model"], 401)
    need(int(manifest["slots"], 16) & ~station.slots == 0, 402)
    source, supply = manifest["supply"]
    if source == "board":
        need(station.own_supply_ok, 405)
        return
    made = [supply, *(manifest["verify"][1] or ())]
    need(all(station.supply_low <= mv <= station.supply_high for mv in made), 403)
    need(all((mv - station.supply_low) % station.supply_step == 0 for mv in made), 404)
