"""A small owner whose keys the tests hold: everything validly signed, and then changed on purpose.

A World starts from what a real package holds and can be bent at every stage: values before they
are spelled, bytes after they were spelled but before they are signed, and the finished package.
"""

import copy
import hashlib
import os

import container
import sealed
from admission import digest
from ed25519_form import Seed

SIGNERS = {name: Seed(hashlib.sha256(b"oracle " + name.encode()).digest())
           for name in ("root-a", "root-b", "root-c", "root-d", "release", "release-2", "quality",
                        "quality-2", "quality-3", "allot", "allot-2", "withdraw", "engineering",
                        "engineering-2", "stranger")}
PERSONS = {"release": "i-fell", "release-2": "g-moss", "quality": "j-moor", "quality-2": "r-dale",
           "quality-3": "i-fell", "allot": "k-beck", "allot-2": "k-beck", "withdraw": "j-moor",
           "engineering": "e-lund", "engineering-2": "g-moss"}
TIME = "2026-03-02T09:15:00Z"


def role_of(signer):
    return signer.split("-")[0]


def key_line(signer, **changes):
    line = {"key": SIGNERS[signer].key, "person": PERSONS[signer], "role": role_of(signer),
            "product": None, "state": "active", **changes}
    return tuple(line.values())


class World:
    def __init__(self, package):
        """`package`: a container.Package whose contents are used."""
        self.manifest = sealed.parse("manifest", package.manifest)
        self.facts = sealed.parse("facts", package.facts)
        self.image = package.image
        self.documents = list(package.documents)
        self.root = {
            "owner": None, "version": 1, "threshold": 2, "previous": None,
            "person": [("m-alder", "Marit Alder"), ("t-tarn", "Tomas Tårn")],
            "key": sorted([(SIGNERS["root-a"].key, "m-alder"), (SIGNERS["root-b"].key, "t-tarn")])}
        scheme = self.manifest["scheme"][0] if self.manifest["scheme"] else "none"
        product = self.manifest["product"]
        self.trust = {
            "root-version": 1, "sequence": 3, "previous": None, "time": TIME,
            "person": [(p, p) for p in sorted(set(PERSONS.values()))],
            "key": sorted(key_line(s) for s in PERSONS),
            "threshold": [], "product": [(product, self.manifest["epoch"], 1)],
            "window": sorted([(SIGNERS["allot"].key, scheme, 0, 99999, "shipment")]), "manifest": []}
        self.root_signers = ["root-a", "root-b"]
        self.next_roots = []           # (changes of the root before, who signs)
        self.bend_roots = None         # [(text, signatures)] -> None
        self.withdrawals = []          # (values of the text, who signs)
        self.trust_signers = ["root-a", "root-b"]
        self.plan = [("release", {}), ("quality", {})]  # signer; changes of the sign-off
        self.late = {}                 # of the manifest, after its contents were filled in
        self.reverse_signatures = False  # of the trust list
        self.links = None              # entry chain, if not the image's own
        self.bend = {}                 # kind: bytes -> bytes, before signing
        self.bend_signature = {}       # kind: bytes -> bytes
        self.bend_package = None       # Package -> None
        self.bend_bytes = None         # bytes -> bytes

    def copy(self):
        return copy.deepcopy(self)

    def bent(self, kind, text):
        return self.bend.get(kind, bytes)(text)

    def signatures(self, kind, signers, text):
        back = kind == "trust" and self.reverse_signatures
        ordered = sorted((SIGNERS[s] for s in signers), key=lambda s: s.key, reverse=back)
        return [self.bend_signature.get(kind, bytes)(s.sign(kind, text)) for s in ordered]

    def owner_files(self):
        """(root text, its signatures, trust text, its signatures)"""
        root = self.bent("root", sealed.spell("root", self.root))
        owner = self.root["owner"] or digest(root)
        trust = self.bent("trust", sealed.spell("trust", {"owner": owner, **self.trust}))
        return (root, self.signatures("root", self.root_signers, root), trust,
                self.signatures("trust", self.trust_signers, trust))

    def roots(self):
        """All roots as a card carries them."""
        values, (text, signatures, _, _) = self.root, self.owner_files()
        out = [(text, signatures)]
        for changes, signers in self.next_roots:
            values = {**values, "owner": self.owner(), "version": values["version"] + 1,
                      "previous": digest(out[-1][0]), **changes}
            text = self.bent("root", sealed.spell("root", values))
            out.append((text, self.signatures("root", signers, text)))
        if self.bend_roots:
            self.bend_roots(out)
        return out

    def withdrawal_files(self):
        files = {}
        for at, (changes, signer) in enumerate(self.withdrawals, 1):
            values = {"owner": self.owner(), "manifest": None, "key": None, "allotment": None,
                      "person": PERSONS.get(signer, "j-moor"), "reason": "stopped", "time": TIME}
            text = self.bent("withdrawal", sealed.spell("withdrawal", {**values, **changes}))
            files[f"CARDSEAL/W{at:02}.TXT"] = text
            files[f"CARDSEAL/W{at:02}.S01"] = SIGNERS[signer].sign("withdrawal", text)
        return files

    def owner(self):
        return self.root["owner"] or digest(self.bent("root", sealed.spell("root", self.root)))

    def sealed_manifest(self, facts):
        manifest = dict(self.manifest)
        manifest["owner"] = self.owner()
        manifest["image"] = (len(self.image), digest(self.image))
        links = container.chain(self.image)
        manifest["chain-head"] = "sha256:" + links[:32].hex()
        manifest["facts"] = (len(facts), digest(facts))
        manifest["file"] = [(n, len(c), digest(c)) for n, c in self.documents]
        manifest.update(self.late)
        self.final = manifest
        return self.bent("manifest", sealed.spell("manifest", manifest)), links

    def signoff(self, signer, changes, manifest_digest, previous):
        signs = changes.get("signs", signer)
        values = {"owner": self.owner(), "manifest": manifest_digest,
                  "product": self.final["product"], "epoch": self.final["epoch"],
                  "sequence": self.final["sequence"], "role": role_of(signer),
                  "person": PERSONS.get(signer, "i-fell"), "key": SIGNERS[signer].key,
                  "meaning": "meant", "reason": "tested", "time": TIME, "previous": previous,
                  "trust-sequence": 3, "units-a-station": None, "stations": None,
                  "numbers": None, "plain-file": "yes", "tool": "oracle"}
        values.update({k: v for k, v in changes.items() if k != "signs"})
        text = self.bent("signoff", sealed.spell("signoff", values))
        signature = SIGNERS[signs].sign("signoff", text)
        return text, self.bend_signature.get("signoff", bytes)(signature)

    def package(self):
        package = container.Package()
        facts = self.bent("facts", sealed.spell("facts", {**self.facts, "owner": self.owner()}))
        package.facts = facts
        package.manifest, links = self.sealed_manifest(facts)
        package.chain = links if self.links is None else self.links
        package.image = self.image
        package.documents = list(self.documents)
        previous = None
        for signer, changes in self.plan:
            package.signoffs.append(
                self.signoff(signer, changes, digest(package.manifest), previous))
            previous = digest(package.signoffs[-1][0])
        if self.bend_package:
            self.bend_package(package)
        return package

    def bytes(self):
        data = self.package().bytes()
        return self.bend_bytes(data) if self.bend_bytes else data

    def write_owner(self, folder):
        """Paths of root and trust list, with signature files beside them."""
        root, root_signatures, trust, trust_signatures = self.owner_files()
        paths = []
        for name, text, signatures in (("owner.root", root, root_signatures),
                                       ("owner.trust", trust, trust_signatures)):
            paths.append(os.path.join(folder, name))
            for at in range(1, 18):
                if os.path.exists(f"{paths[-1]}.s{at:02}"):
                    os.remove(f"{paths[-1]}.s{at:02}")
            for suffix, content in [("", text)] + [
                    (f".s{at:02}", s) for at, s in enumerate(signatures, 1)]:
                with open(paths[-1] + suffix, "wb") as file:
                    file.write(content)
        return paths

    # Cards

    def allotment(self, package, card_id, station, changes):
        scheme = self.manifest["scheme"]
        values = {"owner": self.owner(), "manifest": digest(package.manifest),
                  "product": self.final["product"], "scheme": scheme[0] if scheme else None,
                  "card": card_id, "station": station, "enrolment": 1, "serial": 1, "first": 0,
                  "count": 60, "numbers": "new", "span": [], "units": 60,
                  "class": "production", "work-order": "WO-1001",
                  "enabled-slots": self.manifest["slots"], "date-code": None,
                  "register-entry": None}
        values.update(changes)
        return self.bent("allotment", sealed.spell("allotment", values))
