"""A record's provenance as an RO-Crate, by the Workflow Run Crate profile 0.5.

Recording, signals and models are named by their checksums (RFC 6920) and stay where
they are; the crate holds the record, its timelines, protocol, settings and the workflow.
It says when results were made and stays in the clinic.
"""

import datetime as dt
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path

from aftersit.archive.crate import PROFILE as PROCESS_RUN
from aftersit.change.chain import STAGES, Chain, used
from aftersit.change.made_from import NAME, UsedFile
from aftersit.errors import AftersitError
from aftersit.night.snakemake import SNAKEFILE

PROFILES = (
    PROCESS_RUN,
    "https://w3id.org/ro/wfrun/workflow/0.5",
    "https://w3id.org/workflowhub/workflow-ro-crate/1.0",
)
CONTEXT = "https://w3id.org/ro/terms/workflow-run/context"
_KEPT = ("record", "timeline-cleaned", "timeline-uncleaned", "protocol", "settings", "sheet facts")
_PARAMETERS = {
    "recording": "File",
    "sheet facts": "File",
    "protocol": "File",
    "settings": "File",
    "seed": "Integer",
    "algorithms": "Integer",
}
_RULES = ("bids", "clean", "regions", "replay", "common", "pages")


def write_crate(chain: Chain, folder: Path) -> Path:
    """Write the crate; returns its `ro-crate-metadata.json`. Nothing is fetched.

    Raises
    ------
    AftersitError
        The folder is there already and is not empty, or a file that the crate would hold is
        not what the record was made with.
    """
    _check_kept(chain)
    if folder.exists() and any(folder.iterdir()):
        raise AftersitError(f"{folder} is not empty; give a new folder for the crate")
    _Crate(chain).write(folder)
    return folder / "ro-crate-metadata.json"


def _check_kept(chain: Chain) -> None:
    """Refuse a crate whose own files would not have the checksums that it gives."""
    changed = [role for role in chain.changed() if role in _KEPT]
    if changed:
        raise AftersitError(
            f"no crate of {chain.sitting} under {chain.protocol} version {chain.version}: "
            f"{', '.join(changed)} is not what was written, or gone; make it again with "
            f"`replay --protocol {chain.protocol} --version {chain.version} "
            f"--clients {chain.sitting.client}`"
        )


class _Crate:
    """Entities of one chain."""

    def __init__(self, chain: Chain):
        from rocrate.rocrate import ROCrate

        self.chain = chain
        self.crate = ROCrate(version="1.1")
        self.crate.metadata.extra_contexts.append(CONTEXT)
        self.made = _made(chain)
        self.clinic = self._add("#clinic", "Organization", name=chain.clinic.read_settings().name)
        self.files = {role: self._file(role, one) for role, one in chain.files.items()}

    def write(self, folder: Path) -> None:
        """Fill in everything and write."""
        self._root()
        workflow = self._workflow()
        self._run(workflow)
        steps = [self._step(name) for name in STAGES]
        workflow["hasPart"] = steps
        for entity in self.crate.get_entities():
            if entity.get("sdDatePublished"):
                entity["sdDatePublished"] = self.made
        self.crate.write(folder)

    def _root(self) -> None:
        chain, root = self.chain, self.crate.root_dataset
        root["name"] = f"Provenance of {chain.sitting} under {chain.protocol} v{chain.version}"
        root["description"] = (
            "What one record was made from: files by checksum, settings, versions, seed. "
            "Codes only; for use within the clinic. Not a medical finding."
        )
        root["datePublished"] = self.made
        licence = self._add("#within-the-clinic", "CreativeWork", name="For use within the clinic")
        root["license"] = licence
        root["author"] = root["publisher"] = self.clinic
        root["conformsTo"] = [
            self._add(url, "CreativeWork", name=name, version=number)
            for url, name, number in zip(
                PROFILES,
                ("Process Run Crate", "Workflow Run Crate", "Workflow RO-Crate"),
                ("0.5", "0.5", "1.0"),
                strict=True,
            )
        ]

    def _workflow(self):
        workflow = self.crate.add_workflow(
            SNAKEFILE, "workflow/Snakefile", main=True, lang="snakemake"
        )
        workflow["name"] = "Aftersit"
        workflow["version"] = version("aftersit")
        workflow["encodingFormat"] = "text/plain"
        rules = SNAKEFILE.parent / "workflow" / "rules"
        for name in _RULES:
            self.crate.add_file(
                rules / f"{name}.smk",
                f"workflow/workflow/rules/{name}.smk",
                properties={"name": f"rules: {name}", "encodingFormat": "text/plain"},
            )
        self.parameters = {name: self._parameter(name) for name in _PARAMETERS}
        workflow["input"] = list(self.parameters.values())
        workflow["output"] = self._parameter("record", "File")
        self.files["record"]["exampleOfWork"] = workflow["output"]
        return workflow

    def _parameter(self, name: str, kind: str | None = None):
        found = self._add(
            f"#parameter-{name.replace(' ', '-')}",
            "FormalParameter",
            name=name,
            additionalType=kind or _PARAMETERS[name],
        )
        return found

    def _run(self, workflow) -> None:
        chain = self.chain
        objects = [self.files[r] for r in _PARAMETERS if r in self.files]
        for name in ("seed", "algorithms"):
            value = self._add(
                f"#{name}", "PropertyValue", name=name, value=str(getattr(chain.made_from, name))
            )
            value["exampleOfWork"] = self.parameters[name]
            objects.append(value)
        for role, entity in self.files.items():
            if role in self.parameters:
                entity["exampleOfWork"] = self.parameters[role]
        run = self._action("#run", "Aftersit", workflow, objects, _RESULTS)
        self.crate.root_dataset.append_to("mentions", run)

    def _step(self, stage: str):
        reads, writes = STAGES[stage]
        tool = self._add(
            f"#{stage}",
            "SoftwareApplication",
            name=stage,
            softwareVersion=f"{version('aftersit')}, algorithms {self.chain.made_from.algorithms}",
        )
        objects = [self.files[r] for r in used(self.chain, reads)]
        step = self._action(f"#run-{stage}", stage, tool, objects, writes)
        self.crate.root_dataset.append_to("mentions", step)
        return tool

    def _action(self, key: str, name: str, tool, objects: list, results: Iterable[str]):
        return self._add(
            key,
            "CreateAction",
            name=f"Run of {name}",
            description=f"{name} for {self.chain.sitting}, under {self.chain.made_from.label}",
            agent=self.clinic,
            instrument=tool,
            object=objects,
            result=[self.files[r] for r in used(self.chain, results)],
            endTime=self.made,
            actionStatus="http://schema.org/CompletedActionStatus",
        )

    def _file(self, role: str, one: UsedFile):
        """A copy in the crate, or only its name by checksum."""
        properties = {"name": role, "sha256": one.sha256, "encodingFormat": _format(one.path)}
        path = self.chain.clinic.root / one.path
        if role in _KEPT and path.is_file():
            return self.crate.add_file(path, f"files/{path.name}", properties=properties)
        elsewhere = self._add(ni(one.sha256), "File", description=one.path, **properties)
        self.crate.root_dataset.append_to("hasPart", elsewhere)
        return elsewhere

    def _add(self, key: str, kind: str, **properties):
        from rocrate.model.contextentity import ContextEntity

        found = self.crate.get(key)
        if found:
            return found
        return self.crate.add(ContextEntity(self.crate, key, {"@type": kind, **properties}))


def _format(path: str) -> str:
    """Media type by a file's ending; bytes of no named kind where there is none."""
    kinds = {".json": "application/json", ".tsv": "text/tab-separated-values"}
    kinds |= {".yaml": "application/yaml", ".vhdr": "text/plain"}
    return kinds.get(Path(path).suffix, "application/octet-stream")


_RESULTS = STAGES["replay_protocol"][1]


def ni(checksum: str) -> str:
    """Name of bytes by their SHA-256, as RFC 6920 writes it (`ni:///sha-256;...`)."""
    import base64

    text = base64.urlsafe_b64encode(bytes.fromhex(checksum)).decode().rstrip("=")
    return f"ni:///sha-256;{text}"


def _made(chain: Chain) -> str:
    """When it was made: as provenance says, else when the file was written."""
    told = chain.provenance().get("made")
    if told:
        return told
    written = (chain.clinic.root / chain.folder / NAME).stat().st_mtime
    return dt.datetime.fromtimestamp(int(written), dt.UTC).isoformat()
