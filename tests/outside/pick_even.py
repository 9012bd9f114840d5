#!/usr/bin/env python3
"""How even the motifs that a `[[pick]]` chooses stand round the cup, measured from the kit.

    pick_even.py FRUSTA [--seeds 11 12 13] [--count 22] [--self-test]

Two A4 sheets of sheet_scans.py are the stock (twelve colours, eight kinds, known from the drawing, matched by place); the
job picks COUNT. Of the manifest's places: the part of pieces one of whose three nearest neighbours has the same colour
(as drawn), printed area in sliding thirds of the turn against a third of all (worst, as a part), and the mean colour of a
third against the whole (worst CIE76), each beside a random deal of the same pieces to the same places (mean of 200). The
study's figures: 0.05, 0.30, better than chance. --self-test measures the pieces sorted by colour and must notice.
"""
import argparse, colorsys, json, math, os, shutil, subprocess, sys, tempfile
from pathlib import Path
import numpy as np
import sheet_scans

JOB = '''title = "even"
seed = %d
[cup]
rings = [{ up = 0, girth = 207.5 }, { up = 80, girth = 238 }, { up = 165, girth = 270 }]
wall = 165
keep-clear = { rim = 12, base = 6 }
[[sheet]]
name = "a"
picture = "a.jpg"
[[sheet]]
name = "b"
picture = "b.jpg"
[[pick]]
count = %d
sizes = [%g, 46]
turning = "free"
clearance = 2
'''

def lab(c):
    l = sheet_scans.lin(np.array(c)/255.); m = np.array([[.4124, .3576, .1805], [.2126, .7152, .0722], [.0193, .1192, .9505]])@l/np.array([.95047, 1, 1.08883])
    f = np.where(m > .008856, np.cbrt(m), 7.787*m+16/116); return np.array([116*f[1]-16, 500*(f[0]-f[1]), 200*(f[1]-f[2])])

def figures(az, up, hue, area, lab_, girth=240.):
    x = np.deg2rad(az)*girth/2/np.pi; n = len(x); dx = np.abs(x[:, None]-x[None]); dx = np.minimum(dx, girth-dx); d = np.hypot(dx, up[:, None]-up[None])+np.eye(n)*1e9
    near = np.argsort(d, 1)[:, :3]; same = float(np.mean(hue[near] == hue[:, None]))
    whole = (lab_*area[:, None]).sum(0)/area.sum(); off, col = 0, 0
    for t in range(0, 360, 10):
        m = ((az-t) % 360) < 120
        off = max(off, abs(area[m].sum()/(area.sum()/3)-1)); col = max(col, np.linalg.norm((lab_[m]*area[m, None]).sum(0)/max(area[m].sum(), 1e-9)-whole)) if m.any() else col
    return np.array([same, off, col])

def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument('frusta'); ap.add_argument('--seeds', type=int, nargs='+', default=[11]); ap.add_argument('--count', type=int, default=22); ap.add_argument('--least', type=float, default=10); ap.add_argument('--self-test', action='store_true')
    o = ap.parse_args(); frusta = os.path.abspath(o.frusta); bad = []
    for seed in o.seeds:
        f = Path(tempfile.mkdtemp()); truth = {}
        for name, s in (('a', seed), ('b', seed+1000)): truth[name] = sheet_scans.make(str(f/name), s, 210., 297., 200, 'office', limit=30, smax=34)[1]
        (f/'job.toml').write_text(JOB % (seed, o.count, o.least))
        r = subprocess.run([frusta, 'make', f, '--out', f/'kit', '--json'], capture_output=True, text=True)
        if r.returncode: print(r.stdout[-1500:]); bad.append(f'seed {seed}: no kit'); continue
        got = json.loads(subprocess.run([frusta, 'sheet', f, '--json', '--force'], capture_output=True, text=True).stdout)['sheets']
        table = {}
        for sheet in got:
            for m in sheet['motifs']:
                c = np.array([m['left_mm']+m['width_mm']/2, sheet['height_mm']-m['low_mm']-m['height_mm']/2])
                t = min(truth[sheet['name']], key=lambda t: np.hypot((t['g'].bounds[0]+t['g'].bounds[2])/2-c[0], (t['g'].bounds[1]+t['g'].bounds[3])/2-c[1]))
                table[sheet['name'], m['number']] = (t['colour'], m['area_mm2'], lab([int(m['colour'][i:i+2], 16) for i in (1, 3, 5)]))
        ps = [p for p in json.load(open(f/'kit/manifest.json'))['pieces'] if p['kind']['is'] == 'motif']
        key = [(p['name'].split()[0], int(p['name'].split()[-1])) for p in ps]; colours = sorted({table[k][0] for k in key})
        hue = np.array([colours.index(table[k][0]) for k in key]); area = np.array([table[k][1] for k in key]); L = np.array([table[k][2] for k in key]); az = np.array([p['azimuth_deg'] for p in ps]); up = np.array([p['up_mm'] for p in ps])
        order = np.arange(len(ps))
        if o.self_test: order = np.argsort(hue)[np.argsort(np.argsort(az))]
        v = figures(az, up, hue[order], area[order], L[order]); rng = np.random.default_rng(seed); chance = np.mean([figures(az, up, hue[q], area[q], L[q]) for q in (rng.permutation(len(ps)) for _ in range(200))], 0)
        print(f'seed {seed}: {len(ps)} pieces, {len(colours)} colours; same colour near {v[0]:.3f} (chance {chance[0]:.3f}); area of a third off {v[1]:.2f} ({chance[1]:.2f}); colour of a third off {v[2]:.1f} ({chance[2]:.1f})')
        if v[0] > .05: bad.append(f'seed {seed}: same colour near')
        if v[1] > .30: bad.append(f'seed {seed}: area')
        if v[0] > chance[0] or v[1] > chance[1]: bad.append(f'seed {seed}: worse than chance')
        shutil.rmtree(f)
    if o.self_test: bad = [] if bad else ['the self-test noticed nothing']
    print('\n'.join(bad) or 'all held'); sys.exit(bool(bad))

main()
