"""Keeping a working copy: saving it, what to do when somebody else did, going back."""

from __future__ import annotations

from contextlib import suppress
from typing import Literal

from bondwright.explain.differences import compare as of_plans
from bondwright.explain.differences import lines
from bondwright.page.desk import Desk, UnknownError
from bondwright.page.edits import EditError
from bondwright.page.job_keeper import JobKeeper
from bondwright.page.keepers import FileKeeper
from bondwright.page.wire_describe import (
    CompareAnswer,
    ComparePart,
    KeptAnswer,
    RevisionInfo,
    RevisionsAnswer,
)
from bondwright.page.words import finding_infos
from bondwright.plan.build import plan
from bondwright.site.joining import joined
from bondwright.site.model import Site
from bondwright.site.site_error import SiteError
from bondwright.site.writer import EditError as CannotWriteError
from bondwright.store.store import Revision
from bondwright.store.users import Role, User


class MayNotError(PermissionError):
    """Somebody may not do that."""


def kept(desk: Desk, person: User) -> KeptAnswer:
    """Say where the working copy is kept, whether it is, and whether somebody else wrote since."""
    keeper = desk.keeper
    kind: Literal["none", "file", "job"] = "none"
    if keeper is not None:
        kind = "job" if keeper.kind == "job" else "file"
    return KeptAnswer(
        kind=kind,
        where=keeper.where if keeper is not None else desk.file,
        revision=keeper.revision if keeper is not None else 0,
        new=isinstance(keeper, FileKeeper) and keeper.new,
        unsaved=desk.unsaved,
        elsewhere=keeper.elsewhere() if keeper is not None else "",
        who=person.name,
        may_save=keeper is not None and person.may(Role.EDIT),
        why=_why(desk),
        home=kind == "job",
    )


def _why(desk: Desk) -> str:
    """Propose a reason: what was done since it was kept."""
    said: list[str] = []
    for version in reversed(desk.versions.done):
        if version.text == desk.saved or not version.said:
            break
        if version.said not in said:
            said.append(version.said)
    text = "; ".join(reversed(said))
    return text if len(text) <= 200 else f"{text[:199]}…"


def save(desk: Desk, person: User, why: str) -> KeptAnswer:
    """Keep the working copy. It returns when the change is on the disk.

    Raises:
        MayNotError: the person may only look.
        EditError: there is nowhere to keep it, or nothing to keep.
        bondwright.page.keepers.ChangedElsewhereError: somebody else wrote since.
        bondwright.store.errors.StoreError: a job's revision needs a reason.
    """
    if not person.may(Role.EDIT):
        raise MayNotError(f"{person.name} may look and try out, and save nothing")
    with desk.lock:
        if desk.keeper is None:
            raise EditError("this page was opened without a file or job to save to")
        if not desk.unsaved:
            raise EditError("nothing was changed since it was saved")
        text = desk.text
        desk.keeper.save(text, person.name, why)
        desk.saved = text
    return kept(desk, person)


def take_theirs(desk: Desk, *, mine: bool) -> None:
    """Go on with what somebody else wrote; undo brings one's own back.

    Args:
        desk: the working copy.
        mine: put one's own changes into theirs, so that both can be saved. Where theirs is no
            sound site, or is gone, one's own comes in its place.

    Raises:
        EditError: there is nothing, or the two don't go together; nothing was changed.
        bondwright.site.site_error.SiteError: theirs describes no sound site.
    """
    with desk.lock:
        if desk.keeper is None:
            raise EditError("this page was opened without a file or job")
        own = (desk.site, desk.text, "one's own in its place")
        base, read = desk.saved, list[Site]()

        def sound(text: str) -> None:
            nonlocal own
            with suppress(*([SiteError] if mine else [])):
                read.append(desk.read(text))
            if mine and base and read:
                own = _together(desk, base, text)

        theirs = desk.keeper.take(sound)
        if read:
            by = f" by {theirs.who}" if theirs.who else ""
            desk.describe(read[0], theirs.text, f"as written{by} meanwhile")
        desk.saved = theirs.text
        if mine and own[1] != theirs.text:
            desk.describe(*own)


def _together(desk: Desk, base: str, theirs: str) -> tuple[Site, str, str]:
    """Return what comes of both, and how to say so.

    Raises:
        EditError: they don't go together.
    """
    try:
        found = joined(base, desk.text, theirs)
        site = desk.read(found.text)
    except (SiteError, CannotWriteError) as error:
        first = error.problems[0].problem if isinstance(error, SiteError) else str(error)
        raise EditError(
            f"yours and theirs don't go together: {first}. Look at theirs; undo then brings yours, "
            "to be saved in its place"
        ) from error
    said = ["yours together with theirs"]
    if found.both:
        said.append(f"both changed {', '.join(found.both)}: yours stands")
    if found.left:
        said.append("comments and order of yours aren't in it, undo has them")
    return site, found.text, "; ".join(said)


def revisions(desk: Desk) -> RevisionsAnswer:
    """Return the revisions of the job.

    Raises:
        UnknownError: it is no job.
    """
    keeper = _job(desk)
    return RevisionsAnswer(
        name=keeper.where, revisions=[revision_info(each) for each in keeper.revisions()]
    )


def revision_info(revision: Revision) -> RevisionInfo:
    """Return a revision as it goes over the wire."""
    return RevisionInfo(
        number=revision.number,
        at=revision.at.isoformat(timespec="seconds"),
        who=revision.who,
        why=revision.why,
    )


def compare(desk: Desk, before: int, after: int) -> CompareAnswer:
    """Tell what differs between two revisions; 0 stands for the working copy.

    Raises:
        UnknownError: it is no job.
        bondwright.store.errors.UnknownJobError: there is no such revision.
    """
    keeper = _job(desk)
    old = plan(keeper.site(keeper.older(before)))
    new = desk.base if after == 0 else plan(keeper.site(keeper.older(after)))
    found = of_plans(old, new, old.findings, new.findings)
    parts = [
        ComparePart(head=head, lines=list(body))
        for head, body in lines(found)
        if not head.startswith(("New findings", "Findings"))
    ]
    return CompareAnswer(
        before=f"revision {before}",
        after=f"revision {after}" if after else "what is on this page",
        parts=parts,
        new=finding_infos(found.new),
        gone=finding_infos(found.gone),
    )


def as_file(desk: Desk, number: int) -> tuple[str, str]:
    """Return a site file to be taken along, and a name for it.

    Args:
        desk: the working copy.
        number: of a job's revision; 0 takes what is on the page.
    """
    name = desk.keeper.where if desk.keeper is not None else desk.file or desk.site.site
    stem = name.removesuffix(".yaml")
    if number == 0:
        return desk.text, f"{stem}.yaml"
    return _job(desk).older(number), f"{stem}, revision {number}.yaml"


def take_back(desk: Desk, number: int) -> None:
    """Put an older revision on the page; saved, it is the next one.

    Raises:
        UnknownError: it is no job.
        bondwright.store.errors.UnknownJobError: there is no such revision.
    """
    keeper = _job(desk)
    text = keeper.older(number)
    desk.describe(desk.read(text), text, f"back to revision {number}")


def _job(desk: Desk) -> JobKeeper:
    if not isinstance(desk.keeper, JobKeeper):
        raise UnknownError("this is a file, and only a job has revisions")
    return desk.keeper
