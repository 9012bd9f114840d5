#!/usr/bin/env python3
"""Replaces kits under faults and holds the program to what it promises of the maker's folders.

    fault_campaign.py FRUSTA [--count 24] [--seed S] [--keep DIR]     --count 0: every counted call; exit 1 on any violation

- killed (SIGKILL) before and after the n-th call that changes files, and ENOSPC, EACCES, EIO at the n-th call
  (fault_shim.c, compiled here with cc and preloaded; calls are counted over all threads), with a kit there, without
  one, and with files of the maker's under --force;
- the exchange of names refused by the system (strace, where it is installed);
- two makes at once; a lock held by another; links, dangling links, files and folders of the maker's under names of the
  kit's; folders that may not be written; `--out .`, `--out FILE`.
Held each time: what stands at --out is the old kit or the new one, whole; what the program says of it is so; nothing of
the maker's is touched; nothing hidden is left over once the next make has run; the next make works.
"""
import argparse
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
STANDS = "the kit that was there stands"


def tree(folder):
    """{path: digest or what it is} of everything below a folder, hidden too."""
    out = {}
    if folder.is_symlink() or not folder.exists():
        return out
    for f in sorted(folder.rglob("*")):
        name = str(f.relative_to(folder))
        if f.is_symlink():
            out[name] = "link to " + os.readlink(f)
        elif f.is_dir():
            out[name] = "folder"
        else:
            out[name] = hashlib.sha256(f.read_bytes()).hexdigest()
    return out


def stands(run):
    """Does it say that the old kit stands? Messages are broken into lines where they are long."""
    return STANDS in " ".join(run.stderr.split())


class Campaign:
    def __init__(self, frusta, work, keep):
        self.frusta, self.work, self.keep = str(frusta.resolve()), work, keep
        self.counts, self.faults = Counter(), []
        self.shim = work / "shim.so"
        subprocess.run(["cc", "-shared", "-fPIC", "-O2", "-o", self.shim, HERE / "fault_shim.c", "-ldl"], check=True)
        # Two small jobs that are made in a moment; their kits differ.
        self.jobs, self.kits = {}, {}
        for name, across in (("a", 30), ("b", 34)):
            job = work / f"job-{name}"
            (job / "art").mkdir(parents=True)
            shutil.copy(HERE.parents[1] / "demo-data/first-cup/art/robin.svg", job / "art")
            (job / "job.toml").write_text(
                f'title = "Kit {name}"\ndate = "2026-04-18"\n[cup]\nrings = [{{ up = 0, girth = 188 }}, {{ up = 110, girth = 235 }}]\nwall = 110\n'
                f'[[film]]\nname = "ink-{name}"\nsheet = [200, 150]\n[[motif]]\nart = "art/robin.svg"\nwidth = {across}\nmend = true\nposes = [{{ azimuth = 0, up = 52 }}]\n'
                '[print]\npapers = ["a4"]\n'
            )
            kit = work / f"kit-{name}"
            run = self.make(name, kit)
            assert run.returncode == 0, run.stderr
            self.jobs[name], self.kits[name] = job, tree(kit)

    def make(self, name, out, *more, env=None, cwd=None, before=None, preexec=None, timeout=60):
        command = [*(before or []), self.frusta, "make", "-q", str(self.work / f"job-{name}"), "--out", str(out), *more]
        return subprocess.run(command, capture_output=True, text=True, env={**os.environ, "NO_COLOR": "1", **(env or {})}, cwd=cwd, preexec_fn=preexec, timeout=timeout)

    def hold(self, case, ok, kind, says):
        self.counts["statements held"] += 1
        if not ok:
            self.faults.append((kind, case, says))
            seen = sum(k == kind for k, *_ in self.faults)
            if seen <= 4:
                print(f"VIOLATED {kind}: {case}: {says.strip()[:300]}", flush=True)
        return ok

    def state(self, out, maker):
        """Which kit stands there, the maker's own files left aside."""
        if not os.path.lexists(out):
            return "none"
        hers = set(maker) | {str(p) for name in maker for p in Path(name).parents}
        now = {k: v for k, v in tree(out).items() if k not in hers}
        for name, kit in self.kits.items():
            if now == {k: v for k, v in kit.items() if k not in hers}:
                return name
        return "mixed"

    def place(self, folder, kit, maker):
        out = folder / "out"
        if kit:
            shutil.copytree(self.work / f"kit-{kit}", out)
        for name, text in maker.items():
            f = out / name
            f.parent.mkdir(parents=True, exist_ok=True)
            if text is None:
                f.mkdir(exist_ok=True)
            else:
                f.write_text(text)
        return out

    def after(self, case, folder, out, maker, force, before, run):
        """What must hold once a run has ended, whichever way."""
        # Messages are broken into lines where they are long.
        said = " ".join(((run.stdout or "") + (run.stderr or "")).split())
        now = self.state(out, maker)
        self.hold(case, now != "mixed", "mixed kit", said)
        if before:
            self.hold(case, now != "none", "no kit is there", said)
        if run.returncode == 0:
            self.hold(case, now == "b", "done, but the new kit is not there", f"{now}: {said}")
        elif run.returncode > 0:
            self.hold(case, run.returncode in (1, 3) and "fault[" in said, "exit code or no message", f"{run.returncode}: {said}")
            self.hold(case, STANDS not in said or now == "a", "says that the kit that was there stands", f"there is: {now}; {said}")
            self.hold(case, "nothing was written" not in said or now in ("a", "none"), "says that nothing was written", f"there is: {now}; {said}")
        self.kept(case, out, maker, said, folder if run.returncode < 0 else None)
        # The next make mends everything.
        again = self.make("b", out, *force)
        said = again.stdout + again.stderr
        if self.hold(case, again.returncode == 0, "the next make fails", said):
            self.hold(case, self.state(out, maker) == "b", "the next make leaves something else", str(sorted(set(tree(out)) ^ set(self.kits["b"]))[:9]))
        self.kept(case, out, maker, said)
        over = [f.name for f in folder.iterdir() if f.name not in ("out",)]
        self.hold(case, not over, "left over beside the kit", str(over))
        self.counts["runs"] += 2

    def kept(self, case, out, maker, said, anywhere=None):
        """The maker's files stand; after a kill they may still lie `anywhere` below: the next make puts them back."""
        for name, text in maker.items():
            places = [out / name] if anywhere is None else [d / name for d in anywhere.iterdir()]
            there = any(f.is_dir() if text is None else f.is_file() and f.read_text() == text for f in places)
            self.hold(case, there, "the maker's file is gone", f"{name}: {said}")

    def counted(self, kit, maker, force):
        with tempfile.TemporaryDirectory(dir=self.work) as t:
            folder = Path(t) / "w"
            folder.mkdir()
            out = self.place(folder, kit, maker)
            count = Path(t) / "count"
            self.make("b", out, *force, env={"LD_PRELOAD": str(self.shim), "FAULT_UNDER": str(folder), "FAULT_COUNT": str(count)})
            return int(count.read_text())

    def injected(self, name, kit, maker, force, what, n):
        with tempfile.TemporaryDirectory(dir=self.work) as t:
            folder = Path(t) / "w"
            folder.mkdir()
            out = self.place(folder, kit, maker)
            run = self.make("b", out, *force, env={"LD_PRELOAD": str(self.shim), "FAULT_UNDER": str(folder), "FAULT_AT": str(n), "FAULT_DO": what})
            self.counts[f"{name}: {what}"] += 1
            self.after(f"{name}, {what} at call {n}", folder, out, maker, force, bool(kit), run)


def every(total, count, offset):
    """`count` of the calls 1..total, spread, the last ones (where names change) closely; all of them if count is 0."""
    if count == 0 or count >= total:
        return range(1, total + 1)
    return sorted({1 + (offset + i * total // count) % total for i in range(count)})


def scenes(c):
    """Moments that no count finds."""

    def scene(name):
        t = Path(tempfile.mkdtemp(dir=c.work, prefix="scene-"))
        c.counts["scenes"] += 1
        return name, t

    nobody = lambda: (os.setgid(65534), os.setuid(65534))

    # a folder of the old kit that may not be written, by one who is not root
    case, t = scene("old kit with a folder that may not be written")
    if os.getuid() == 0:
        out = c.place(t, "a", {})
        subprocess.run(["chown", "-R", "65534:65534", t], check=True)
        os.chmod(c.work, 0o755)
        os.chmod(out / "cut", 0o555)
        run = c.make("b", out, preexec=nobody)
        c.hold(case, c.state(out, {}) in "ab", "mixed kit", run.stderr)
        c.hold(case, not stands(run) or c.state(out, {}) == "a", "says that the kit that was there stands", f"there is: {c.state(out, {})}; {run.stderr}")
        for f in t.rglob("*"):
            f.is_dir() and not f.is_symlink() and os.chmod(f, 0o755)
        again = c.make("b", out, preexec=nobody)
        c.hold(case, again.returncode == 0 and c.state(out, {}) == "b", "the next make fails", again.stderr)
        c.hold(case, sorted(os.listdir(t)) == ["out"], "left over beside the kit", str(os.listdir(t)))

    # the parent may not be written
    case, t = scene("parent that may not be written")
    if os.getuid() == 0:
        out = c.place(t, "a", {})
        subprocess.run(["chown", "-R", "65534:65534", out], check=True)
        os.chmod(t, 0o555)
        run = c.make("b", out, preexec=nobody)
        c.hold(case, run.returncode in (0, 3) and c.state(out, {}) == ("b" if run.returncode == 0 else "a"), "mixed kit", run.stderr)

    # a folder of the maker's under the name of a file of the kit's
    case, t = scene("the maker's folder under the name of a kit's file, --force")
    out = c.place(t, "a", {})
    (out / "manifest.json").unlink()
    (out / "manifest.json").mkdir()
    (out / "manifest.json/notes.txt").write_text("notes")
    run = c.make("b", out, "--force")
    notes = [f for f in t.rglob("notes.txt")]
    c.hold(case, len(notes) == 1 and notes[0].read_text() == "notes", "the maker's file is gone", run.stderr)
    c.hold(case, notes and not any(p.startswith(".out") for p in notes[0].relative_to(t).parts), "the maker's file is hidden away", str(notes))
    c.hold(case, not stands(run) or (out / "manifest.json/notes.txt").exists(), "says that the kit that was there stands", run.stderr)
    again = c.make("b", out)
    c.hold(case, again.returncode == 0 or ("not the kit's" in again.stderr and STANDS not in again.stderr), "the next make fails and names no way out", again.stderr)

    # a file of the maker's under the name of a folder of the kit's
    case, t = scene("the maker's file under the name of a kit's folder, --force")
    out = c.place(t, "a", {})
    shutil.rmtree(out / "weeding")
    (out / "weeding").write_text("precious")
    run = c.make("b", out, "--force")
    c.hold(case, any(f.is_file() and f.read_bytes() == b"precious" for f in t.rglob("*")), "the maker's file is gone", f"exit {run.returncode}: {run.stderr}")

    case, t = scene("the maker's file under the name of a kit's folder, without --force")
    out = c.place(t, "a", {})
    shutil.rmtree(out / "weeding")
    (out / "weeding").write_text("precious")
    run = c.make("b", out)
    c.hold(case, (out / "weeding").is_file() and (out / "weeding").read_text() == "precious" and run.returncode == 3 or run.returncode == 1, "the maker's file is gone", run.stderr)

    # empty folders
    case, t = scene("an empty folder of the maker's")
    out = c.place(t, "a", {"ideas": None})
    run = c.make("b", out)
    c.hold(case, (out / "ideas").is_dir(), "the maker's folder is gone", run.stderr)

    # changed files and files added
    case, t = scene("a file of the kit's that the maker changed")
    out = c.place(t, "a", {})
    (out / "manifest.json").write_text("changed")
    before = tree(out)
    run = c.make("b", out)
    c.hold(case, run.returncode != 0 and tree(out) == before, "the maker's file is gone", run.stderr)
    case, t = scene("a file added, without --force")
    out = c.place(t, "a", {"notes.txt": "mine"})
    before = tree(out)
    run = c.make("b", out)
    c.hold(case, run.returncode != 0 and tree(out) == before, "the maker's file is gone", run.stderr)

    # links
    case, t = scene("a link to a folder")
    c.place(t, "a", {})
    (t / "link").symlink_to("out")
    run = c.make("b", t / "link")
    c.hold(case, run.returncode == 0 and (t / "link").is_symlink() and c.state(t / "out", {}) == "b", "link", run.stderr)
    case, t = scene("a dangling link, --force")
    (t / "link").symlink_to("nowhere")
    run = c.make("b", t / "link", "--force")
    hidden = [f for f in os.listdir(t) if f.startswith(".")]
    c.hold(case, not hidden, "left over beside the kit", str(hidden))
    whole = c.state(t / "link", {}) == "b" or c.state((t / "nowhere"), {}) == "b"
    c.hold(case, (run.returncode == 0) == whole, "says otherwise than it is", f"exit {run.returncode}, {os.listdir(t)}: {run.stderr}")
    again = c.make("b", t / "link", *(["--force"] if run.returncode else []))
    c.hold(case, again.returncode == 0 or (t / "link").is_symlink(), "the next make fails", again.stderr)
    case, t = scene("a link in the kit that leads out of it")
    out = c.place(t, "a", {})
    (t / "mine").mkdir()
    (t / "mine/precious").write_text("precious")
    (out / "more").symlink_to("../mine")
    c.make("b", out)
    c.make("b", out, "--force")
    c.hold(case, (t / "mine/precious").is_file(), "the maker's file is gone", "")

    # the lock
    case, t = scene("a lock held by another, Ctrl-C")
    out = c.place(t, "a", {})
    holder = subprocess.Popen([sys.executable, "-c", f"import fcntl,os,time; f=os.open({str(t)!r},os.O_RDONLY); fcntl.flock(f,fcntl.LOCK_EX); print('held',flush=True); time.sleep(30)"], stdout=subprocess.PIPE)
    holder.stdout.readline()
    child = subprocess.Popen([c.frusta, "make", "-q", str(c.work / "job-b"), "--out", str(out)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(2.5)
    if child.poll() is None:
        child.send_signal(signal.SIGINT)
    try:
        said = child.communicate(timeout=4)[1]
        c.hold(case, c.state(out, {}) in "ab", "mixed kit", said)
    except subprocess.TimeoutExpired:
        c.hold(case, False, "Ctrl-C is not heard", "still waits for the lock 4 s later")
        child.kill()
        child.communicate()
    holder.kill()
    holder.wait()
    again = c.make("b", out)
    c.hold(case, again.returncode == 0, "the next make fails", again.stderr)

    # two at once
    for i in range(6):
        case, t = scene(f"two makes at once, {i}")
        out = c.place(t, ["a", None][i % 2], {})
        two = [subprocess.Popen([c.frusta, "make", "-q", str(c.work / f"job-{n}"), "--out", str(out)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for n in "ab"]
        said = [p.communicate(timeout=60)[1] for p in two]
        c.hold(case, c.state(out, {}) in ("a", "b"), "mixed kit", " / ".join(said))
        c.hold(case, all(p.returncode in (0, 3) for p in two), "exit code or no message", " / ".join(said))
        c.hold(case, os.listdir(t) == ["out"], "left over beside the kit", str(os.listdir(t)))

    # --out . and --out FILE
    case, t = scene("--out . in an empty folder")
    (t / "here").mkdir()
    run = c.make("b", ".", cwd=t / "here")
    c.hold(case, (run.returncode == 0) == (c.state(t / "here", {}) == "b"), "says otherwise than it is", run.stderr)
    c.hold(case, run.returncode == 0 or ("fault[" in run.stderr and "mend" in run.stderr and not stands(run)), "no way out is named", run.stderr)
    case, t = scene("--out . in a folder of the maker's")
    (t / "here").mkdir()
    (t / "here/mine").write_text("mine")
    run = c.make("b", ".", "--force", cwd=t / "here")
    c.hold(case, (t / "here/mine").is_file(), "the maker's file is gone", run.stderr)
    for force in ((), ("--force",)):
        case, t = scene(f"--out FILE {' '.join(force)}")
        (t / "file").write_text("mine")
        run = c.make("b", t / "file", *force)
        c.hold(case, (t / "file").is_file() and (t / "file").read_text() == "mine" and run.returncode == 3, "the maker's file is gone", run.stderr)
        c.hold(case, not stands(run), "says that the kit that was there stands", run.stderr)
    case, t = scene("no room at the first make")
    run = c.make("b", t / "out", env={"LD_PRELOAD": str(c.shim), "FAULT_UNDER": str(t), "FAULT_AT": "30", "FAULT_DO": "ENOSPC"})
    c.hold(case, not stands(run), "says that the kit that was there stands", f"there was none; {run.stderr}")

    # hidden folders of killed runs, many of them
    case, t = scene("what killed runs left behind")
    out = c.place(t, "a", {})
    for _ in range(3):
        c.make("b", out, env={"LD_PRELOAD": str(c.shim), "FAULT_UNDER": str(t), "FAULT_AT": "60", "FAULT_DO": "kill"})
    c.hold(case, len(os.listdir(t)) <= 2, "left over beside the kit", str(os.listdir(t)))
    again = c.make("b", out)
    c.hold(case, again.returncode == 0 and os.listdir(t) == ["out"], "left over beside the kit", str(os.listdir(t)))

    mounts(c, scene)

    # the system knows no exchange of names
    if shutil.which("strace"):
        for error in ("ENOSYS", "EINVAL"):
            case, t = scene(f"no exchange of names: {error}")
            out = c.place(t, "a", {})
            run = c.make("b", out, before=["strace", "-f", "-qq", "-o", "/dev/null", "-e", "trace=renameat2", "-e", f"inject=renameat2:error={error}"])
            c.hold(case, run.returncode == 0 and c.state(out, {}) == "b" and os.listdir(t) == ["out"], "the next make fails", f"{os.listdir(t)} {run.stderr}")
        for call in ("rename", "renameat2", "rename,renameat,renameat2"):
            for n in (1, 2):
                case, t = scene(f"killed at {call} {n}")
                out = c.place(t, "a", {})
                run = c.make("b", out, before=["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", f"inject={call}:signal=KILL:when={n}"])
                c.after(case, t, out, {}, [], True, run)
    else:
        print("strace is not installed: the exchange of names was not refused")


def mounts(c, scene):
    """Places where a disk is mounted: in a space of names of its own, so that nothing of this machine's is touched."""
    if subprocess.run(["unshare", "-rm", "true"], capture_output=True).returncode != 0:
        print("no mounts without rights here: mount points were not tried")
        return

    def mounted(name, kit, at, force=(), files=None):
        """(case, folder, out, disk, run): `disk` is mounted at out, or at a folder of the kit's."""
        case, t = scene(name)
        out, disk = t / "out", t / "disk"
        if at == "":
            disk.mkdir()
            if kit:
                shutil.copytree(c.place(t / "made", kit, {}), disk, dirs_exist_ok=True)
                shutil.rmtree(t / "made")
            out.mkdir()
        else:
            c.place(t, kit, {})
            disk.mkdir()
        for f, text in (files or {}).items():
            (disk / f).write_text(text)
        bind = ["unshare", "-rm", "sh", "-c", f'mount --bind "{disk}" "{out / at}" && exec "$@"', "sh"]
        return case, t, out, disk, c.make("b", out, *force, before=bind), bind

    for kit in ("a", None):
        case, t, out, disk, run, bind = mounted(f"--out is where a disk is mounted, kit there: {kit}", kit, "")
        c.hold(case, run.returncode == 3 and "mount" in run.stderr and "--out" in run.stderr, "no way out is named", run.stderr)
        c.hold(case, c.state(disk, {}) == "a" if kit else not tree(disk) and not stands(run), "says otherwise than it is", f"{c.state(disk, {})}: {run.stderr}")
        c.hold(case, sorted(os.listdir(t)) == ["disk", "out"] and not [f for f in os.listdir(disk) if f.startswith(".out")], "left over beside the kit", f"{os.listdir(t)} {os.listdir(disk)}")
        again = c.make("b", out / "kit", before=bind)
        c.hold(case, again.returncode == 0 and c.state(disk / "kit", {}) == "b", "the next make fails", again.stderr)
    for force in ((), ("--force",)):
        case, t, out, disk, run, _ = mounted(f"a folder of the kit's is where a disk is mounted {' '.join(force)}", "a", "weeding", force, {"mine": "mine"})
        c.hold(case, (disk / "mine").is_file() and (disk / "mine").read_text() == "mine", "the maker's file is gone", run.stderr)
        c.hold(case, c.state(out, {}) in ("a", "b"), "mixed kit", f"{c.state(out, {})}: {run.stderr}")
        c.hold(case, not stands(run) or c.state(out, {}) == "a", "says that the kit that was there stands", run.stderr)
        again = c.make("b", out, *force)
        c.hold(case, again.returncode == 0 and c.state(out, {}) == "b", "the next make fails", again.stderr)
        c.hold(case, sorted(os.listdir(t)) == ["disk", "out"], "left over beside the kit", str(os.listdir(t)))


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("frusta", type=Path)
    args.add_argument("--count", type=int, default=24, help="moments of each kind; 0: every counted call")
    args.add_argument("--seed", type=int, default=0, help="shifts which calls are taken")
    args.add_argument("--keep", type=Path, help="not used: scenes are made from nothing")
    a = args.parse_args()
    work = Path(tempfile.mkdtemp(prefix="faults-"))
    try:
        c = Campaign(a.frusta, work, a.keep)
        setups = [
            ("kit there", "a", {}, []),
            ("no kit there", None, {}, []),
            ("the maker's files, --force", "a", {"notes.txt": "mine", "ideas/one.txt": "two", "cut/mine.svg": "<svg/>"}, ["--force"]),
        ]
        for name, kit, maker, force in setups:
            total = c.counted(kit, maker, force)
            c.counts[f"{name}: calls counted"] = total
            for what in ("kill", "after", "ENOSPC", "EACCES", "EIO"):
                for n in every(total, a.count, a.seed):
                    c.injected(name, kit, maker, force, what, n)
        scenes(c)
        for what, n in c.counts.items():
            print(f"{n:>8}  {what}")
        kinds = Counter(k for k, *_ in c.faults)
        for kind, n in kinds.most_common():
            print(f"{n:>8}  violations: {kind}")
        print(f"{len(c.faults)} violations")
    finally:
        subprocess.run(["chmod", "-R", "u+w", work])
        shutil.rmtree(work, ignore_errors=True)
    sys.exit(1 if c.faults else 0)


if __name__ == "__main__":
    main()
