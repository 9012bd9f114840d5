#!/usr/bin/env python3
"""The same sheet in other files must be the same sheet.

    sheet_same.py FRUSTA [--seeds 3 7 12] [--self-test]

One clean scan (sheet_scans.py) as PNG, TIFF and JPEG 95; turned by 90, 180 and 270 degrees with the EXIF turn set that
turns it back (JPEG, PNG, TIFF); and the same sheet drawn at 300 and 600 dpi. Numbers must be the same, and outlines within
0.03 mm of those of the PNG (mean both ways, by shapely): the study's check cases 6 and 7. --self-test moves an outline by
0.1 mm and changes numbers, and must notice.
"""
import argparse, os, shutil, subprocess, sys, tempfile
from pathlib import Path
import numpy as np, shapely
from PIL import Image
from shapely import affinity
import sheet_scans
from sheet_outlines import found, points

def off(a, b):
    return float(np.concatenate([shapely.distance(points(a), b.boundary), shapely.distance(points(b), a.boundary)]).mean())

def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument('frusta'); ap.add_argument('--seeds', type=int, nargs='+', default=[3]); ap.add_argument('--limit', type=int, default=12); ap.add_argument('--self-test', action='store_true')
    o = ap.parse_args(); frusta = os.path.abspath(o.frusta); bad = []; base = Path(tempfile.mkdtemp())
    for seed in o.seeds:
        img, placed = sheet_scans.make(str(base/f's{seed}'), seed, 120., 150., 300, 'clean', limit=o.limit); pil = Image.fromarray(img); dpi = dict(dpi=(300, 300))
        pil.save(base/'a.tif', **dpi); pil.save(base/'a.jpg', quality=95, subsampling='4:4:4', **dpi); pil.save(base/'a.png', **dpi)
        # EXIF orientation: 6 is shown turned clockwise by 90 degrees, 3 by 180, 8 by 270 (EXIF 2.3, tag 274).
        for tag, turn in ((6, 90), (3, 180), (8, 270)):
            e = Image.Exif(); e[274] = tag; turned = pil.rotate(turn, expand=True)
            turned.save(base/f't{tag}.jpg', quality=95, subsampling='4:4:4', exif=e, **dpi)
            turned.save(base/f't{tag}.png', exif=e, **dpi); turned.save(base/f't{tag}.tif', tiffinfo={274: tag}, **dpi)
        big, big_placed = sheet_scans.make(None, seed, 120., 150., 600, 'clean', limit=o.limit); Image.fromarray(big).save(base/'big.png', dpi=(600, 600))
        ref, _, _, why = found(frusta, base/'a.png', base)
        if not ref: bad.append(f'seed {seed}: {why}'); continue
        for name in ['a.tif', 'a.jpg']+[f't{t}.{x}' for t in (6, 3, 8) for x in ('jpg', 'png', 'tif')]+['big.png']:
            got, _, _, why = found(frusta, base/name, base)
            if o.self_test and got: got = [affinity.translate(got[0], .1, 0)]+got[1:]
            if len(got) != len(ref): bad.append(f'seed {seed} {name}: {len(got)} motifs for {len(ref)} {why}'); print(bad[-1]); continue
            d = [off(a, b) for a, b in zip(got, ref)]; print(f'seed {seed} {name:8s} {len(got)} motifs, worst off {max(d):.4f} mm')
            if max(d) > .03: bad.append(f'seed {seed} {name}: {max(d):.3f} mm, or another number')
    shutil.rmtree(base)
    if o.self_test: bad = [] if bad else ['the self-test noticed nothing']
    print('\n'.join(bad) or 'all held'); sys.exit(bool(bad))

main()
