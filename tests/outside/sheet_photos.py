#!/usr/bin/env python3
"""Photographs of printed sheets against the exact outlines that they were drawn from.

    sheet_photos.py FRUSTA [--seeds 1 2] [--by frame-a4 a4 card] [--tilt 12] [--k1 0.01] [--keep FOLDER] [--self-test]

Motifs of sheet_scans.py lie on the page of eight discs (its PDF, drawn by poppler), on A4 paper on a dark table, or on
white paper with a card (85.60 x 53.98 x 0.76 mm) beside them; a pinhole camera of 4000 x 3000 pixels with one radial term, tilted,
turned, takes them, with uneven light, a soft shadow, noise and JPEG 90, all mixed in linear light (OpenCV). `frusta sheet`
finds what is on them. Outlines found are laid on the true ones by the shift and turn that fit best (the sheet's own frame
is free), never by scale; distances by shapely. Held: all found, none split, merged nor false; the mean distance; what the
program tells of a motif's uncertainty, times three, is not passed by its mean offset; pictures without discs, of a covered
disc's page, mirrored, or without a card are refused. --self-test scales outlines by 0.5 % and must notice.
"""
import argparse, json, os, shutil, subprocess, sys, tempfile
from pathlib import Path
import cv2, numpy as np
from shapely import affinity
import sheet_scans
from sheet_outlines import flattened, measured, region

JOB = '[cup]\nrings = [{{ up = 0, girth = 188 }}, {{ up = 110, girth = 235 }}]\nwall = 110\n[[sheet]]\nname = "sheet"\npicture = "photo.jpg"\nscale = "{by}"\n'
LIMITS = {'frame-a4': (.05, .16), 'a4': (.45, 1.1), 'card': (.45, 1.3)}   # mean over motifs, worst motif's mean, mm

def page(frusta, folder, dpi):
    subprocess.run([frusta, 'sheet', folder, '--frame', 'a4', '--out', folder/'frames', '--force', '--quiet'], check=True, stdout=subprocess.DEVNULL)
    subprocess.run(['pdftoppm', '-r', str(dpi), '-png', '-singlefile', folder/'frames/frame-a4.pdf', folder/'frame'], check=True)
    return cv2.imread(str(folder/'frame.png'))[:, :, ::-1]

def scene(frusta, seed, by, folder, dpi=400):
    "linear light, mm a pixel 25.4/dpi; where the film's origin lies; size of the plane"
    film, placed = sheet_scans.make(None, seed, 150., 205., 400, 'photo', limit=14)
    T = np.clip(sheet_scans.lin(film/255.)/sheet_scans.lin(np.array([.82, .81, .78])).max(), 0, 1)   # backing near 1
    T = T/np.median(T.reshape(-1, 3), 0); T = np.clip(T, 0, 1)
    px = lambda mm: int(round(mm*dpi/25.4))
    if by == 'frame-a4':
        W, H, at = 210., 297., (28., 40.); lit = sheet_scans.lin(page(frusta, folder, dpi)/255.).astype(np.float32)*.8
    elif by == 'a4':
        W, H, at = 290., 377., (40+28., 40+45.); lit = np.full((px(H), px(W), 3), .09, np.float32)*np.array([1., .8, .6], np.float32)
        lit[px(40):px(337), px(40):px(250)] = .8
    else:
        W, H, at = 230., 310., (40., 80.); lit = np.full((px(H), px(W), 3), .8, np.float32)
    y, x = px(at[1]), px(at[0]); lit[y:y+T.shape[0], x:x+T.shape[1]] *= T.astype(np.float32)
    return lit, placed, at, (W, H)

def mapping(cam):
    "pixel grid -> mm on the plane (z = 0)"
    h, w = cam['hpx'], cam['wpx']; yy, xx = np.mgrid[0:h, 0:w].astype(np.float64)+.5
    c = np.array([w/2, h/2]); r0 = np.hypot(*c); d = np.stack([(xx-c[0])/r0, (yy-c[1])/r0], -1); u = d.copy()
    for _ in range(8): u = d/(1+cam['k1']*(u**2).sum(-1, keepdims=True))
    return u*r0+c
def plane(q, cam, z=0.):
    R, K, D = cam['R'], cam['K'], cam['D']; H = K@np.c_[R[:, 0], R[:, 1], R@[0, 0, -z]+[0, 0, D]]; p = np.concatenate([q, np.ones(q.shape[:-1]+(1,))], -1)@np.linalg.inv(H).T
    return p[..., :2]/p[..., 2:]+[cam['W']/2, cam['H']/2]

def photo(frusta, seed, by, folder, tilt, k1, damage=None):
    rng = np.random.default_rng([seed, 51]); lit, placed, at, (W, H) = scene(frusta, seed, by, folder)
    u = rng.uniform(0, 2*np.pi); t = rng.uniform(.5, 1)*tilt; portrait = 90.
    from importlib import import_module
    cam = camera(W, H, t*np.cos(u), t*np.sin(u), portrait+rng.uniform(-4, 4), k1=k1*rng.choice([-1, 1]))
    q = mapping(cam); p = plane(q, cam); k = 400/25.4
    img = cv2.remap(cv2.GaussianBlur(lit, (0, 0), .035*k), (p[..., 0]*k-.5).astype(np.float32), (p[..., 1]*k-.5).astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    if by == 'card':
        pc = plane(q, cam, .76)-[70., 10.]; w, h, r = 85.60, 53.98, 3.18
        d = np.stack([np.abs(pc[..., 0]-w/2)-(w/2-r), np.abs(pc[..., 1]-h/2)-(h/2-r)], -1); dist = np.hypot(np.maximum(d[..., 0], 0), np.maximum(d[..., 1], 0))+np.minimum(d.max(-1), 0)-r
        pxmm = 1/np.abs(np.diff(p[:, :, 0], axis=1)).mean() if False else 11.; a = np.clip(.5-dist*pxmm, 0, 1)[..., None]; img = img*(1-a)+a*np.array([.05, .12, .3])
    yy, xx = np.mgrid[0:cam['hpx'], 0:cam['wpx']]/np.array([cam['hpx'], cam['wpx']]).reshape(2, 1, 1); a = rng.uniform(0, 2*np.pi)
    img = img*(1-.25*(.5+.7*((xx-.5)*np.cos(a)+(yy-.5)*np.sin(a))))[..., None]
    sh = cv2.GaussianBlur((xx*np.cos(a+1)+yy*np.sin(a+1) > .55).astype(np.float32), (0, 0), 130)[..., None]; img = img*(1-.2*sh)
    img = sheet_scans.enc(img)*255+rng.normal(0, 2, img.shape); img = np.clip(np.rint(img), 0, 255).astype(np.uint8)
    if damage == 'mirror': img = img[:, ::-1]
    if damage == 'blank': img[:] = 200
    if damage == 'cover': img[:, :cam['wpx']//4] = 190
    from PIL import Image; Image.fromarray(np.ascontiguousarray(img)).save(folder/'photo.jpg', quality=90, subsampling='4:2:0')
    return placed, at

def camera(W, H, tilt, turn, roll, k1):
    "pinhole 27 mm equivalent, 4000 x 3000, as near as the plane fits"
    from math import radians, cos, sin
    t, u, v = map(radians, (tilt, turn, roll)); Rx = np.array([[1, 0, 0], [0, cos(t), -sin(t)], [0, sin(t), cos(t)]]); Ry = np.array([[cos(u), 0, sin(u)], [0, 1, 0], [-sin(u), 0, cos(u)]]); Rz = np.array([[cos(v), -sin(v), 0], [sin(v), cos(v), 0], [0, 0, 1]])
    R = Rx@Ry@Rz; K = np.array([[3022., 0, 2000], [0, 3022., 1500], [0, 0, 1]]); cor = np.array([[0, 0], [W, 0], [W, H], [0, H]], float); lo, hi = 50., 3000.
    for _ in range(60):
        D = (lo+hi)/2; q = np.c_[cor-[W/2, H/2], np.zeros(4)]@R.T+[0, 0, D]; q = q@K.T; q = q[:, :2]/q[:, 2:]
        ok = (np.abs(q-[2000, 1500]) < [.94*2000, .94*1500]).all(); lo, hi = (lo, D) if ok else (D, hi)
    return dict(R=R, K=K, D=hi, W=W, H=H, k1=k1, wpx=4000, hpx=3000)

def run(frusta, by, folder):
    (folder/'job.toml').write_text(JOB.format(by=by)); got = subprocess.run([frusta, 'sheet', folder, '--json', '--force'], capture_output=True, text=True); said = json.loads(got.stdout)
    if not said['done']: return None, said
    sheet = said['sheets'][0]; svg = (folder/'sheets'/sheet['file']).read_text(); import re
    data = {int(n): d for n, d in re.findall(r'<path [^>]*id="print-(\d+)"[^>]*?d="([^"]*)"', svg)}
    if not data: data = {int(n): d for d, n in re.findall(r'<path d="([^"]*)"[^>]*id="print-(\d+)"', svg)}
    return [affinity.translate(region(flattened(data[n])), -8, -22) for n in sorted(data)], said

def laid(got, want):
    "the rigid motion that lays what was found on what is there: by centroids, from the pairing that agrees best"
    a = np.array([[g.centroid.x, g.centroid.y] for g in got]); b = np.array([[g.centroid.x, g.centroid.y] for g in want]); best = None; area = lambda l: np.array([g.area for g in l])
    for i in range(len(a)):
        for j in range(len(b)):
            if abs(area(got)[i]/area(want)[j]-1) > .08: continue
            for k in range(len(a)):
                da = a[k]-a[i]; L = np.hypot(*da)
                if L < 40: continue
                for m in range(len(b)):
                    db = b[m]-b[j]
                    if abs(np.hypot(*db)-L) > 2 or abs(area(got)[k]/area(want)[m]-1) > .08: continue
                    th = np.arctan2(db[1], db[0])-np.arctan2(da[1], da[0]); R = np.array([[np.cos(th), -np.sin(th)], [np.sin(th), np.cos(th)]]); q = (a-a[i])@R.T+b[j]
                    d = np.hypot(*(q[:, None]-b[None]).transpose(2, 0, 1)); n = (d.min(1) < 2.5).sum()
                    if best is None or n > best[0]: best = (n, q, d.argmin(1), d.min(1) < 2.5)
    if best is None: return got
    _, _, pair, ok = best; p, t = a[ok], b[pair[ok]]; cp, ct = p.mean(0), t.mean(0); u, _, v = np.linalg.svd((p-cp).T@(t-ct)); R = v.T@u.T; s = ct-R@cp
    return [affinity.affine_transform(g, [R[0, 0], R[0, 1], R[1, 0], R[1, 1], s[0], s[1]]) for g in got]

if __name__ == '__main__':
    ap = argparse.ArgumentParser(); ap.add_argument('frusta'); ap.add_argument('--seeds', type=int, nargs='+', default=[1]); ap.add_argument('--by', nargs='+', default=['frame-a4', 'a4', 'card']); ap.add_argument('--tilt', type=float, default=12); ap.add_argument('--k1', type=float, default=.01); ap.add_argument('--keep'); ap.add_argument('--self-test', action='store_true'); ap.add_argument('--no-refusals', action='store_true')
    o = ap.parse_args(); frusta = os.path.abspath(o.frusta); base = Path(o.keep or tempfile.mkdtemp()); bad = []
    print('photo       seed found split merged false   mean  worst   told')
    for by in o.by:
        for seed in o.seeds:
            f = base/f'{by}-{seed}'; f.mkdir(parents=True, exist_ok=True); (f/'job.toml').write_text(JOB.format(by=by)); placed, at = photo(frusta, seed, by, f, o.tilt, o.k1)
            want = [m['g'] for m in placed]; got, said = run(frusta, by, f)
            if got is None: print(f'{by:11s} {seed:4d} refused: '+'; '.join(d['says'] for d in said['found'] if d['severity'] == 'fault')); bad.append(f'{by} {seed}: refused'); continue
            got = laid(got, want)
            if o.self_test: got = [affinity.scale(g, 1.005, 1.005, origin=(0, 0)) for g in got]
            m = measured(want, got); told = max(x['off_mm'] for x in said['sheets'][0]['motifs'])
            mean, worst = float(np.mean(m['means'])) if 'means' in m else m['mean'], m.get('worst', 0)
            print(f"{by:11s} {seed:4d} {m['found']:3d}/{len(want)} {m['split']:4d} {m['merged']:5d} {m['false']:5d} {mean:8.3f} {worst:6.3f} {told:6.2f}")
            if m['found'] != len(want) or m['split'] or m['merged'] or m['false']: bad.append(f'{by} {seed}: not all found')
            if mean > LIMITS[by][0] or worst > LIMITS[by][1]: bad.append(f'{by} {seed}: distances')
            if mean > 3*told+.03: bad.append(f'{by} {seed}: told too little')
        if not o.no_refusals:
            for damage in ['blank', 'mirror', 'cover'] if by == 'frame-a4' else ['blank', 'cover']:
                f = base/f'{by}-{damage}'; f.mkdir(parents=True, exist_ok=True); (f/'job.toml').write_text(JOB.format(by=by)); photo(frusta, o.seeds[0], by, f, o.tilt, o.k1, damage); got, said = run(frusta, by, f)
                codes = [d['code'] for d in said['found'] if d['severity'] == 'fault']; print(f'{by:11s} {damage}:', codes or 'taken'); bad += [] if codes else [f'{by} {damage}: taken']
    if not o.keep: shutil.rmtree(base)
    if o.self_test: bad = [] if bad else ['the self-test noticed nothing']
    print('\n'.join(bad) or 'all held'); sys.exit(bool(bad))
