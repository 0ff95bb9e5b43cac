"""Commands that keep jobs with every revision of them."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bondwright.cli.common import json_option, plain_errors, print_json
from bondwright.cli.mail import telling

if TYPE_CHECKING:
    from bondwright.site.model import Site
    from bondwright.store.store import Revision, Snapshot, Store
    from bondwright.store.users import User

_F = TypeVar("_F", bound=Callable[..., Any])

_STORE: Final = "BONDWRIGHT_STORE"
_ON_MACHINE: Final = "somebody on the server's machine"


def _store_option(function: _F) -> _F:
    option: Callable[[_F], _F] = click.option(
        "--store",
        "where",
        envvar=_STORE,
        metavar="FILE|ADDRESS",
        help=f"Where the jobs are kept: a file, or postgresql://user@host/name. Also {_STORE}. "
        "Without either, a file among those of your account.",
    )
    return option(function)


def _signed(function: _F) -> _F:
    who: Callable[[_F], _F] = click.option(
        "--who", default=None, help="Who makes the change; the name of your account otherwise."
    )
    why: Callable[[_F], _F] = click.option("--why", required=True, help="Why, in a few words.")
    return who(why(function))


def opened(where: str | None, *, create: bool = False) -> Store:
    """Open the store that is named, or that of the environment, or the usual one."""
    from bondwright.store.store import Store

    where = where or os.environ.get(_STORE)
    if where is None:
        folder = Path(click.get_app_dir("bondwright"))
        if create:
            folder.mkdir(parents=True, exist_ok=True)
        where = str(folder / "jobs.sqlite")
        if not create and not Path(where).exists():
            raise click.UsageError("no job has been started yet: bondwright jobs start SITE")
    return Store(where, create=create)


def _person(who: str | None) -> str:
    import getpass

    try:
        return who or getpass.getuser()
    except (OSError, KeyError):
        raise click.UsageError("say who makes the change: --who NAME") from None


@click.group(short_help="Keep jobs with every revision of them.")
def jobs() -> None:
    """Keep jobs: the site file and what belongs to it, with who changed it, when and why.

    Nothing in the store is ever overwritten. A change is written whole or not at all.
    """


@jobs.command("list", short_help="List the jobs.")
@_store_option
@json_option
@plain_errors
def list_(where: str | None, as_json: bool) -> None:
    """List the jobs with the newest revision of each."""
    from bondwright.cli.tables import print_table

    with opened(where) as store:
        found = store.jobs()
    if as_json:
        entries = [{"name": job.name, "newest": _revision(job.newest)} for job in found]
        print_json({"format": "bondwright/job-list", "version": 1, "jobs": entries})
        return
    if not found:
        click.echo("no job yet; 'bondwright jobs start SITE' makes one")
        return
    print_table(
        ("job", "revision", "when", "who", "why"),
        [(job.name, *_row(job.newest)) for job in found],
    )


@jobs.command(short_help="Start a job from a site file.")
@click.argument("site", type=click.Path(path_type=Path))
@click.option("--name", help="What to call it; the site's own name otherwise.")
@click.option(
    "--with", "more", multiple=True, type=click.Path(path_type=Path),
    help="Another file that belongs to the job (readings, say); may be given again.",
)  # fmt: skip
@_signed
@_store_option
@plain_errors
def start(
    site: Path, name: str | None, more: tuple[Path, ...], who: str | None, why: str,
    where: str | None,
) -> None:  # fmt: skip
    """Start a job from a site file, with the amendment files that it names."""
    described, files = _read(site, more)
    with opened(where, create=True) as store:
        revision = store.add(name or described.site, files, who=_person(who), why=why)
        click.echo(f"job '{store.find(revision.job).name}', revision 1: {_names(files)}")


@jobs.command(short_help="Save a changed site file as the next revision.")
@click.argument("job")
@click.argument("site", type=click.Path(path_type=Path))
@click.option(
    "--after", type=int, required=True, metavar="N",
    help="The revision that the file was made from; refused if a newer one stands.",
)  # fmt: skip
@click.option(
    "--with", "more", multiple=True, type=click.Path(path_type=Path),
    help="Another file that belongs to the job; those of the last revision stay.",
)  # fmt: skip
@_signed
@_store_option
@plain_errors
def save(
    job: str, site: Path, after: int, more: tuple[Path, ...], who: str | None, why: str,
    where: str | None,
) -> None:  # fmt: skip
    """Save a changed site file as the next revision of a job."""
    _, files = _read(site, more)
    with opened(where) as store:
        before = store.read(job, after)
        files = {**before.files, **files}
        if files == before.files:
            click.echo(f"nothing differs from revision {after}; nothing was written")
            return
        revision = store.save(job, files, after=after, who=_person(who), why=why)
        click.echo(f"job '{before.name}', revision {revision.number}: {_names(files)}")


@jobs.command(short_help="List the revisions of a job.")
@click.argument("job")
@_store_option
@json_option
@plain_errors
def history(job: str, where: str | None, as_json: bool) -> None:
    """List the revisions of a job, the oldest first."""
    from bondwright.cli.tables import print_table

    with opened(where) as store:
        found, name = store.revisions(job), store.find(job).name
    if as_json:
        entries = [_revision(each) for each in found]
        print_json(
            {"format": "bondwright/job-history", "version": 1, "name": name, "revisions": entries}
        )
        return
    print_table(("revision", "when", "who", "why"), [_row(each) for each in found])


@jobs.command(short_help="Write the files of a job into a folder.")
@click.argument("job")
@click.option("--revision", type=int, metavar="N", help="Which one; the newest otherwise.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder to write into.")
@click.option("--force", is_flag=True, help="Overwrite files that are there.")
@_store_option
@plain_errors
def take(job: str, revision: int | None, out: Path, force: bool, where: str | None) -> None:
    """Write the files of a job into a folder, to work on or to hand over."""
    from bondwright.site.writer import save as write

    with opened(where) as store:
        snapshot = store.read(job, revision)
    there = [name for name in snapshot.files if (out / name).exists()]
    if there and not force:
        raise click.UsageError(f"{out / there[0]} is there already; --force overwrites it")
    out.mkdir(parents=True, exist_ok=True)
    for name, data in snapshot.files.items():
        write(out / name, data)
    click.echo(f"'{snapshot.name}', revision {snapshot.revision.number}, in {out}:")
    for name in snapshot.files:
        click.echo(f"  {name}")


@jobs.command("compare", short_help="Tell what differs between two revisions.")
@click.argument("job")
@click.argument("before", type=int)
@click.argument("after", type=int)
@_store_option
@json_option
@plain_errors
def compare_revisions(job: str, before: int, after: int, where: str | None, as_json: bool) -> None:
    """Tell what differs between two revisions of a job, and what that changes."""
    from bondwright.cli.compare import compared, tell

    with opened(where) as store:
        old, new = store.read(job, before), store.read(job, after)
    names = (f"revision {before}", f"revision {after}")
    tell(compared(_site(old), _site(new)), names, as_json)


@jobs.command(short_help="Write jobs with all revisions into one file.")
@click.argument("job", nargs=-1)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The file, a zip file.")
@click.option("--force", is_flag=True, help="Overwrite a file that is there.")
@_store_option
@plain_errors
def bundle(job: tuple[str, ...], out: Path, force: bool, where: str | None) -> None:
    """Write jobs (all, if none is named) with all revisions into one file.

    A backup, or a way to another store. The users of a served store are not in it.
    """
    from bondwright.cli.common import check_writable
    from bondwright.site.writer import save as write
    from bondwright.store.bundle import bundle as made

    check_writable(out)
    if out.exists() and not force:
        raise click.UsageError(f"{out} is there already; --force overwrites it")
    with opened(where) as store:
        data = made(store, job or None, _progress)
        number = len(job) or len(store.jobs())
    write(out, data)
    click.echo(f"wrote {out}: {number} {'job' if number == 1 else 'jobs'}")


@jobs.command(short_help="Put the jobs of a bundle into the store.")
@click.argument("file", type=click.Path(path_type=Path))
@_store_option
@plain_errors
def restore(file: Path, where: str | None) -> None:
    """Put the jobs of a bundle into the store; none that is there is touched."""
    from bondwright.store.bundle import MAX_BUNDLE, unbundle
    from bondwright.store.bundle import restore as put
    from bondwright.store.errors import StoreError

    if file.stat().st_size > MAX_BUNDLE:
        raise StoreError(f"{file} is larger than {MAX_BUNDLE // 2**20} MiB; is it a bundle?")
    found = unbundle(file.read_bytes())
    with opened(where, create=True) as store:
        for name in put(store, found, _progress):
            click.echo(f"job '{name}'")


@jobs.group(short_help="Who is let in where the jobs are served.")
def user() -> None:
    """Users of the page where the jobs are served to others ('bondwright serve --jobs').

    Each has a name, a password and a role: look (see, and try out on a copy of one's own), edit
    (save as well), keep (keep the users as well).
    """


_ROLE: Final = click.Choice(["look", "edit", "keep"])


@user.command("add", short_help="Let somebody in.")
@click.argument("name")
@click.option("--role", type=_ROLE, required=True, help="What they may do.")
@_store_option
@plain_errors
def add_one(name: str, role: str, where: str | None) -> None:
    """Let somebody in from now on; the password is asked for."""
    from bondwright.store.users import Role, add_user

    with telling(opened(where, create=True)) as store:
        made = add_user(store, name, Role(role), _password(), by=_ON_MACHINE)
        click.echo(f"'{made.name}' is let in and may {_MAY[role]}")


@user.command("list", short_help="List the users.")
@_store_option
@plain_errors
def list_users(where: str | None) -> None:
    """List the users and their roles."""
    from bondwright.cli.tables import print_table
    from bondwright.store.users import users, with_factor

    with opened(where) as store:
        found, has = users(store), with_factor(store)
    if not found:
        click.echo("nobody yet; 'bondwright jobs user add NAME --role keep' lets somebody in")
        return
    rows = [(one.name, _MAY[one.role.value], _factor(one, one.name in has)) for one in found]
    print_table(("user", "may", "second factor"), rows)


def _factor(one: User, has: bool) -> str:
    if has:
        return "yes"
    return "needed, not set up yet" if one.role.value == "keep" else "no"


@user.command("change", short_help="Give somebody another role or password; a lost phone.")
@click.argument("name")
@click.option("--role", type=_ROLE, help="What they may do from now on.")
@click.option("--password", is_flag=True, help="Ask for a new password.")
@click.option(
    "--no-factor", is_flag=True,
    help="Take their second factor away: the phone is lost, and so are the spare codes.",
)  # fmt: skip
@_store_option
@plain_errors
def change_one(
    name: str, role: str | None, password: bool, no_factor: bool, where: str | None
) -> None:
    """Give somebody another role or password, or take their second factor away.

    Sessions end with the old password or factor, and they are told at the next log-in. Whoever
    keeps the users is led through setting up another factor then.
    """
    from bondwright.store.factor import drop_factor
    from bondwright.store.users import Role, change_user

    if role is None and not password and not no_factor:
        raise click.UsageError("say what changes: --role, --password, --no-factor")
    with telling(opened(where)) as store:
        new = _password() if password else None
        if no_factor:
            drop_factor(store, name, by=_ON_MACHINE)
        found = change_user(
            store, name, role=Role(role) if role else None, password=new, by=_ON_MACHINE
        )
        click.echo(f"'{found.name}' may {_MAY[found.role.value]}")
        if no_factor:
            click.echo("Their second factor is taken away: the password alone lets them in now.")
            if found.role is Role.KEEP:
                click.echo("They keep the users again when they have set up another.")


@user.command("mail", short_help="Keep an address where somebody is told of changes.")
@click.argument("name")
@click.argument("address", required=False, default="")
@_store_option
@plain_errors
def mail_one(name: str, address: str, where: str | None) -> None:
    """Keep an address where somebody is told by mail that their credentials changed.

    Without ADDRESS none is kept. See 'bondwright serve --mail-by'.
    """
    from bondwright.store.mail import set_mail

    with telling(opened(where)) as store:
        set_mail(store, name, address, by=_ON_MACHINE)
    click.echo(f"'{name}' is told at {address}" if address else f"no address of '{name}' is kept")


@user.command("remove", short_help="Let somebody in no more.")
@click.argument("name")
@click.option(
    "--forget-name", is_flag=True,
    help="Put 'someone who left' in place of their name beside what they saved.",
)  # fmt: skip
@_store_option
@plain_errors
def remove_one(name: str, forget_name: bool, where: str | None) -> None:
    """Let somebody in no more; their revisions stay, with times, reasons and contents.

    Bundles and backups made before still have their name.
    """
    from bondwright.store.users import remove_user

    with telling(opened(where)) as store:
        remove_user(store, name, by=_ON_MACHINE, forget=forget_name)
    beside = ", without their name" if forget_name else ""
    click.echo(f"'{name}' is let in no more; what they saved stays{beside}")


_MAY: Final = {
    "look": "look, and try out on a copy of their own",
    "edit": "look and save",
    "keep": "look, save, and keep the users",
}


def _password() -> str:
    """Ask for a password, or read it where nobody types."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    text: str = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    return text


def _progress(what: str, done: int, of: int) -> None:
    if sys.stderr.isatty():
        click.echo(f"\r\x1b[K{what} {done}/{of}", nl=done + 1 == of, err=True)


def _read(path: Path, more: tuple[Path, ...]) -> tuple[Site, dict[str, bytes]]:
    """Read a site file and what belongs to it, refusing what wouldn't come out again as it is."""
    from bondwright.site.amendments import named_files
    from bondwright.site.reader import load
    from bondwright.site.text_file import decode, read_bytes
    from bondwright.store.errors import StoreError
    from bondwright.store.files import SITE

    described = load(path)
    files = {SITE: read_bytes(path)}
    named = [path.parent / name for name in named_files(decode(files[SITE], str(path)))]
    for each in (*named, *more):
        if each in named and each.parent != path.parent:
            raise StoreError(
                f"the amendments in {each} stand in a folder of their own; put them beside the "
                "site file to keep them in a job"
            )
        if each.name in files:
            raise StoreError(f"two files are called {each.name}")
        files[each.name] = read_bytes(each)
    return described, files


def _site(snapshot: Snapshot) -> Site:
    """Read the site of a revision with the files beside it."""
    import tempfile

    from bondwright.site.reader import load
    from bondwright.store.files import SITE

    with tempfile.TemporaryDirectory(prefix="bondwright-") as folder:
        for name, data in snapshot.files.items():
            Path(folder, name).write_bytes(data)
        return load(Path(folder, SITE))


def _revision(revision: Revision) -> dict[str, object]:
    return {
        "number": revision.number,
        "at": revision.at.isoformat(),
        "who": revision.who,
        "why": revision.why,
    }


def _row(revision: Revision) -> tuple[str, str, str, str]:
    when = revision.at.astimezone().strftime("%Y-%m-%d %H:%M")
    return str(revision.number), when, revision.who, revision.why


def _names(files: dict[str, bytes]) -> str:
    return ", ".join(files)
