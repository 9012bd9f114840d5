#!/usr/bin/env python3
"""Scans of printed sheets with exact outlines: the generator of the study that the constants of `make::sheet` come from,
less its photos and foreign art.

Motifs are polygons in mm; coverage is drawn by its own picture at twice the resolution (rsvg-convert mixes rims in encoded
values), inks are mixed with the backing in linear light, then come blur, light, streaks, dust, noise and packing. Same
seed, same picture. Needs numpy, opencv, shapely, pillow, rsvg-convert.
"""
import json, math, subprocess, tempfile
import numpy as np, cv2
from shapely.geometry import Polygon, MultiPolygon, box, Point
from shapely.ops import unary_union
from shapely import affinity

CASES = {
    # blur: PSF sigma in mm, noise: sigma in 8-bit codes, light: relative fall-off over the sheet, jpeg: quality or None
    'clean':  dict(blur=.030, noise=1.0, light=.00, jpeg=None, backing=(.93,.93,.92), dust=0),
    'office': dict(blur=.045, noise=2.5, light=.05, jpeg=85, backing=(.90,.90,.88), dust=25, streaks=3),
    'poor':   dict(blur=.080, noise=5.0, light=.15, jpeg=60, backing=(.84,.83,.78), dust=60, streaks=8),
    'pale':   dict(blur=.045, noise=2.5, light=.05, jpeg=85, backing=(.90,.90,.88), dust=25, pale=True),
    'dark':   dict(blur=.045, noise=2.5, light=.05, jpeg=85, backing=(.035,.035,.04), dust=25, white=.85),
    'darkclear': dict(blur=.045, noise=2.5, light=.05, jpeg=85, backing=(.035,.035,.04), dust=0, white=0.0),
    'half':   dict(blur=.045, noise=2.5, light=.05, jpeg=85, backing=(.90,.90,.88), dust=25, half=True),
    'photo':  dict(blur=.030, noise=2.5, light=.05, jpeg=85, backing=(.82,.81,.78), dust=5),
}
PALETTE = ['#b5304a','#d9643a','#e0a526','#5b8f3a','#2f6f5e','#3b6aa8','#7a4fa0','#c25a92','#7c4a2d','#274a86','#8aa83a','#cf7f9f']
PALES = ['#f3d9e2','#e9e3c4','#d7e6f2','#dfeed6','#eadcf3','#f6e3cf']

def lin(c):
    c = np.asarray(c, np.float32); return np.where(c <= .04045, c/12.92, ((c+.055)/1.055)**2.4)
def enc(c):
    c = np.clip(c, 0, 1); return np.where(c <= .0031308, c*12.92, 1.055*c**(1/2.4)-.055)

# ---- motifs: polygons in mm about the origin, fine enough that chords are within 0.004 mm
def polar(f, n=1440):
    t = np.linspace(0, 2*np.pi, n, endpoint=False); r = f(t); return Polygon(np.c_[r*np.cos(t), r*np.sin(t)]).buffer(0)
def leaf(L, W, teeth=0, bend=0., n=400):
    s = np.linspace(0, 1, n); w = W/2*np.sin(np.pi*s**.8)**.9
    if teeth: w = w*(1-.14*((s*teeth) % 1))
    mid = bend*L*np.sin(np.pi*s); x = s*L
    return Polygon(np.r_[np.c_[x, mid+w], np.c_[x[::-1], (mid-w)[::-1]]]).buffer(0)
def blossom(r, k, rng):
    d = rng.uniform(.18, .35); p = rng.uniform(0, 1)
    return polar(lambda t: r*(1-d+d*np.abs(np.cos(k*t/2))**(.6+p)))
def daisy(r, k):
    return unary_union([affinity.rotate(affinity.translate(leaf(r*.78, r*.36), r*.2, 0), 360*i/k, origin=(0, 0)) for i in range(k)]+[Point(0, 0).buffer(r*.28, 64)])
def sprig(L, k):
    parts = [Polygon([(0, -.35), (L, -.2), (L, .2), (0, .35)])]
    for i in range(k):
        x = L*(i+.7)/(k+.2)
        for s in (1, -1): parts.append(affinity.translate(affinity.rotate(leaf(L*.3, L*.11), s*50, origin=(0, 0)), x, 0))
    parts.append(affinity.translate(leaf(L*.3, L*.12), L*.95, 0)); return affinity.translate(unary_union(parts), -L*.6, 0)
def wreath(r, k):
    ring = Point(0, 0).buffer(r, 256).difference(Point(0, 0).buffer(r*.86, 256))
    ls = [affinity.translate(affinity.rotate(leaf(r*.5, r*.22), 70+360*i/k, origin=(0, 0)), r*.93*math.cos(2*math.pi*i/k), r*.93*math.sin(2*math.pi*i/k)) for i in range(k)]
    return unary_union([ring]+ls)
def berries(r, k, gap, rng):
    "loose parts: round berries `gap` mm apart and a leaf"
    q = r*.3; parts = [Point(0, 0).buffer(q, 64)]
    for i in range(k):
        a = 2*math.pi*i/k; d = 2*q+gap; parts.append(Point(d*math.cos(a), d*math.sin(a)).buffer(q*rng.uniform(.85, .98), 64))
    return unary_union(parts)
def butterfly(r):
    def w(cx, cy, a, b, rot): return affinity.rotate(affinity.scale(Point(cx, cy).buffer(1, 128), a, b), rot, origin=(cx, cy))
    half = [w(r*.45, -r*.3, r*.55, r*.33, -35), w(r*.38, r*.35, r*.42, r*.28, 40)]
    body = affinity.scale(Point(0, 0).buffer(1, 128), r*.09, r*.6)
    return unary_union(half+[affinity.scale(h, -1, 1, origin=(0, 0)) for h in half]+[body])
def motif(rng, size, kind=None):
    kinds = ['blossom', 'daisy', 'leaf', 'toothed', 'sprig', 'wreath', 'berries', 'butterfly']
    kind = kind or kinds[rng.integers(len(kinds))]; r = size/2
    g = {'blossom': lambda: blossom(r, int(rng.integers(5, 9)), rng), 'daisy': lambda: daisy(r, int(rng.integers(8, 14))),
         'leaf': lambda: affinity.translate(leaf(size, size*.4, 0, .12), -r, 0), 'toothed': lambda: affinity.translate(leaf(size, size*.5, 9, .08), -r, 0),
         'sprig': lambda: sprig(size*.8, 4), 'wreath': lambda: wreath(r*.8, 11),
         'berries': lambda: berries(r, 6, rng.uniform(.5, 1.2), rng), 'butterfly': lambda: butterfly(r)}[kind]()
    return kind, g.buffer(0)
def rings(g):
    for p in (g.geoms if hasattr(g, 'geoms') else [g]):
        yield np.array(p.exterior.coords)[:-1], False
        for h in p.interiors: yield np.array(h.coords)[:-1], True
def d_of(g): return ' '.join('M'+' '.join('%.4f,%.4f' % tuple(q) for q in r)+'Z' for r, _ in rings(g))

def layout(rng, W, H, case, gap=4.0, smin=14, smax=46, tries=700, limit=999):
    placed = []
    hulls = []
    sheet = box(0, 0, W, H)
    for k in range(tries):
        if len(placed) >= limit: break
        size = smin+(smax-smin)*rng.random()**1.6
        kind, g = motif(rng, size)
        g = affinity.rotate(g, rng.uniform(0, 360), origin=(0, 0))
        over = bool(case.get('half')) and rng.random() < .5
        if over:
            side = rng.integers(4); x, y = rng.uniform(10, W-10), rng.uniform(10, H-10); q = rng.uniform(-.25, .25)*size
            x, y = [(q, y), (W-q, y), (x, q), (x, H-q)][side]
        else: x, y = rng.uniform(0, W), rng.uniform(0, H)
        g = affinity.translate(g, x, y)
        if not over and not box(4, 4, W-4, H-4).contains(g): continue
        full = g; g = g.intersection(sheet)
        if g.area < 30: continue
        hull = full.buffer(gap/2, 8)
        if any(hull.intersects(h) for h in hulls): continue
        hulls.append(hull); placed.append(dict(kind=kind, g=g, half=bool(full.area-g.area > .5)))
    return placed

def svg_of(placed, W, H, rng, case, extra=''):
    defs, body = [], []
    for i, m in enumerate(placed):
        c = PALETTE[rng.integers(len(PALETTE))]; c2 = PALETTE[rng.integers(len(PALETTE))]
        edge = PALES[rng.integers(len(PALES))] if case.get('pale') else c
        g = m['g']; x0, y0, x1, y1 = g.bounds; cx, cy, r = (x0+x1)/2, (y0+y1)/2, max(x1-x0, y1-y0)/2
        defs.append(f'<radialGradient id="g{i}" gradientUnits="userSpaceOnUse" cx="{cx:.3f}" cy="{cy:.3f}" r="{r:.3f}"><stop offset="0" stop-color="{c2}"/><stop offset=".55" stop-color="{c}"/><stop offset="1" stop-color="{edge if case.get("pale") else c}"/></radialGradient><clipPath id="c{i}"><path d="{d_of(g)}" clip-rule="evenodd"/></clipPath>')
        body.append(f'<path d="{d_of(g)}" fill-rule="evenodd" fill="{edge if case.get("pale") else f"url(#g{i})"}"/>')
        if case.get('pale'):
            for b, op in ((-.5, .45), (-1.1, .6), (-1.8, .8)):
                q = g.buffer(b)
                if not q.is_empty: body.append(f'<path d="{d_of(q)}" fill-rule="evenodd" fill="{c}" opacity="{op*.6:.2f}"/>')
        # veins and a pale eye inside, clear of the rim, so that the inside is not one colour
        q = g.buffer(-1.2)
        if not q.is_empty:
            for _ in range(6):
                a = rng.uniform(0, 2*np.pi); l = affinity.translate(Polygon([(0, -.12), (r*.9, -.08), (r*.9, .08), (0, .12)]), cx, cy)
                l = affinity.rotate(l, math.degrees(a), origin=(cx, cy)).intersection(q)
                if l.area > 0 and l.geom_type in ('Polygon', 'MultiPolygon'): body.append(f'<path d="{d_of(l)}" fill="#fff" opacity=".55"/>')
        m['colour'] = c; m['edge'] = edge
        m['white'] = True
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{W}mm" height="{H}mm" viewBox="0 0 {W} {H}"><defs>{"".join(defs)}</defs>{"".join(body)}{extra}</svg>'

def raster(svg, W, H, dpi, bg='#ffffff'):
    with tempfile.TemporaryDirectory() as t:
        open(t+'/a.svg', 'w').write(svg); w, h = round(W*dpi/25.4), round(H*dpi/25.4)
        subprocess.run(['rsvg-convert', '--unlimited', '-w', str(w), '-h', str(h), '-b', bg, t+'/a.svg', '-o', t+'/a.png'], check=True)
        return cv2.imread(t+'/a.png')[:, :, ::-1]

def make(out, seed=1, W=148., H=210., dpi=300, case='office', marks=None, limit=999, over=2, **kw):
    rng = np.random.default_rng([seed, 77]); c = dict(CASES[case]); c.update(kw.pop('change', {}))
    placed = layout(rng, W, H, c, limit=limit, **kw)
    extra = ''
    if marks is not None: extra = ''.join(f'<circle cx="{x}" cy="{y}" r="{r}" fill="#000"/>' for x, y, r in marks)
    svg = svg_of(placed, W, H, rng, c, extra)
    big = raster(svg, W, H, dpi*over)
    # coverage by its own picture, so that rims mix in linear light (the renderer mixes encoded values): ink = (picture - (1 - cov)) / cov
    cov = raster('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g">' % (W, H)+''.join(f'<path d="{d_of(m["g"])}" fill-rule="evenodd"/>' for m in placed)+(extra if marks is not None else '')+'</svg>', W, H, dpi*over)[:, :, :1]
    a = 1-cov.astype(np.float32)/255.; ink = big.astype(np.float32)/255.; ink = np.clip((ink-(1-a))/np.maximum(a, .04), 0, 1); T = lin(ink).astype(np.float32)
    back = np.array(c['backing'], np.float32); w = c.get('white', 0.)   # white of that opacity under the ink (0: none)
    lit = back*(1-a)+a*T*(back*(1-w)+.9*w)
    del cov, a, ink
    del T, big
    s = c['blur']*dpi*over/25.4
    lit = cv2.GaussianBlur(lit, (0, 0), s)
    h, w = lit.shape[0]//over, lit.shape[1]//over
    lit = cv2.resize(lit[:h*over, :w*over], (w, h), interpolation=cv2.INTER_AREA)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    if c['light']:
        a = rng.uniform(0, 2*np.pi); lit *= (1-c['light']*(.5+.5*((xx/w-.5)*np.cos(a)+(yy/h-.5)*np.sin(a))*1.4))[..., None]
    for _ in range(c.get('streaks', 0)):                           # soft reflections and creases of the film
        a = rng.uniform(0, np.pi); p = rng.uniform(.1, .9, 2)*[w, h]; d = (xx-p[0])*np.cos(a)+(yy-p[1])*np.sin(a); wd = rng.uniform(.6, 3)*dpi/25.4
        lit *= (1+rng.uniform(-.03, .03)*np.exp(-(d/wd)**2))[..., None]
    for _ in range(c['dust']):
        p = rng.uniform(0, 1, 2)*[w, h]; r = rng.uniform(.04, .22)*dpi/25.4; v = rng.uniform(.3, .8)
        m = np.zeros((h, w), np.uint8); 
        x, y = int(p[0]), int(p[1]); q = int(4*r)+3; x0, y0, x1, y1 = max(x-q, 0), max(y-q, 0), min(x+q, w), min(y+q, h)
        gg = np.exp(-(((xx[y0:y1, x0:x1]-p[0])**2+(yy[y0:y1, x0:x1]-p[1])**2)/(2*r*r))**2)
        lit[y0:y1, x0:x1] *= (1-v*gg)[..., None]
    img = enc(lit)*255+rng.normal(0, c['noise'], lit.shape).astype(np.float32)
    img = np.clip(np.rint(img), 0, 255).astype(np.uint8)
    del lit
    if out:
        path = out+('.jpg' if c['jpeg'] else '.png')
        from PIL import Image; Image.fromarray(img).save(path, dpi=(dpi, dpi), **(dict(quality=c['jpeg'], subsampling='4:2:0') if c['jpeg'] else {}))   # carries its dpi
        img = cv2.imread(path)[:, :, ::-1]
        json.dump(dict(seed=seed, sheet=[W, H], dpi=dpi, case=case, motifs=[dict(kind=m['kind'], half=m['half'], colour=m['colour'], edge=m['edge'],
            rings=[dict(hole=h, points=np.round(r, 5).tolist()) for r, h in rings(m['g'])]) for m in placed]), open(out+'.json', 'w'))
    elif c['jpeg']:
        img = cv2.imdecode(cv2.imencode('.jpg', np.ascontiguousarray(img[:, :, ::-1]), [cv2.IMWRITE_JPEG_QUALITY, c['jpeg']])[1], 1)[:, :, ::-1]
    return img, placed
