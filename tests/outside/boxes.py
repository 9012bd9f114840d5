#!/usr/bin/env python3
"""Text boxes of a drawing or a printed document: which overlap, leave the page, are too small, are crossed by outlines;
and in PDFs which headings stand at a page's foot and which pages hold a lone row.

usage: boxes.py [options] FILE...          SVG (live text, or text as outlines of a known face) or PDF
  --faces A.ttf B.ttf  faces whose outlines text is drawn with (SVG with text as paths)
  --least MM           least cap height, mm (1.8);  --least-note MM for texts of >= 12 letters (1.4)
  --gap MM             boxes nearer than this overlap (0.0);  --margin MM inner margin of the page (0)
  --lines              report texts crossed by outlines (ids o<number>, class edge, id outline)
  --limit KIND=N       exit 1 if more than N of KIND (overlap, off-page, small, crossed, lone-row, heading-at-foot, no-text)
  --json               one JSON object a file;  --show N  findings shown a kind (8)
  --self-test
Box of a text: its ink, in the direction it is written in; cap height: 0.714 of the size unless the face says otherwise."""
import sys, re, math, json, os, tempfile
import numpy as np
from shapely.geometry import Polygon, LineString, box, MultiPoint
from shapely import STRtree
MM = 25.4/72
CAP, XH, DESC = 0.714, 0.536, 0.24

class T:                       # a text: words, oriented box (polygon, mm), cap height mm, page
    def __init__(s, words, poly, cap, page=1, bold=False, y=0.0, size=0.0):
        s.words, s.poly, s.cap, s.page, s.bold, s.y, s.size = words, poly, cap, page, bold, y, size

class Page(tuple):             # (page box, texts, edges); pictured: part of the page that pictures and drawings cover
    pictured = 0.0

# ---------- outlines -> words
class Glyphs:
    def __init__(s, files):
        from fontTools.ttLib import TTFont
        from fontTools.pens.basePen import BasePen
        s.by = {}; s.info = []
        class Pen(BasePen):
            def __init__(p, gs): super().__init__(gs); p.c = []
            def _moveTo(p, a): p.c.append([('M', [a])])
            def _lineTo(p, a): p.c[-1].append(('L', [a]))
            def _qCurveToOne(p, a, b): p.c[-1].append(('Q', [a, b]))
            def _curveToOne(p, a, b, c): p.c[-1].append(('C', [a, b, c]))
            def _closePath(p): pass
            def _endPath(p): pass
        for f in files:
            font = TTFont(f); u = font['head'].unitsPerEm; gs = font.getGlyphSet()
            cap = (getattr(font['OS/2'], 'sCapHeight', 0) or CAP*u)/u
            bold = font['OS/2'].usWeightClass >= 600 or 'bold' in os.path.basename(f).lower()
            for ch, name in font.getBestCmap().items():
                pen = Pen(gs); gs[name].draw(pen)
                cs = [(sig(c), pts(c)/u) for c in pen.c]
                if cs:
                    s.info.append((chr(ch), cs, cap, bold)); s.by.setdefault(cs[0][0], []).append(len(s.info)-1)
    def fit(s, g, cs, i):
        """similarity z' = a conj(z) + b of all contours of a glyph; (residual as part of size, a) or None"""
        want = s.info[g][1]
        if i+len(want) > len(cs) or any(w[0] != c[0] for w, c in zip(want, cs[i:])): return None
        z = np.conj(np.concatenate([w[1] for w in want])); t = np.concatenate([c[1] for c in cs[i:i+len(want)]])
        zc, tc = z-z.mean(), t-t.mean(); q = (np.abs(zc)**2).sum()
        if q == 0: return None
        a = (np.conj(zc)*tc).sum()/q
        if abs(a) < 1e-6: return None
        return np.abs(tc-a*zc).max()/abs(a), a
    def words(s, cs):
        """words, size, direction of a path's contours; None where it is no text"""
        out, i, As, bold, cap = '', 0, [], 0, CAP
        while i < len(cs):
            best = None
            for g in s.by.get(cs[i][0], ()):
                r = s.fit(g, cs, i)
                if r and r[0] < 0.02 and (best is None or (r[0], -len(s.info[g][1])) < best[0]) and \
                   (not As or abs(r[1]-As[0]) < 0.1*abs(As[0])): best = ((r[0], -len(s.info[g][1])), g, r[1])
            if best is None: return None
            out += s.info[best[1]][0]; As.append(best[2]); i += len(s.info[best[1]][1]); bold += s.info[best[1]][3]; cap = s.info[best[1]][2]
        a = np.median(np.real(As))+1j*np.median(np.imag(As))
        return out, abs(a), a/abs(a), bold*2 > len(As), cap
def sig(c):
    return ''.join(k for k, _ in c if k != 'Z')
def pts(c):
    return np.array([complex(*p) for k, ps in c for p in ps])
NUM = re.compile(r'[MLCQHVZmlcqhvz]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?')
def contours(d):
    tok = NUM.findall(d); i = 0; out = []; cmd = None; here = start = (0.0, 0.0)
    need = dict(M=2, L=2, C=6, Q=4, H=1, V=1)
    while i < len(tok):
        if tok[i].isalpha():
            cmd = tok[i]; i += 1
            if cmd in 'Zz': here = start; continue
        k = cmd.upper(); v = [float(x) for x in tok[i:i+need[k]]]; i += need[k]
        if cmd.islower():
            v = [x+(here[j % 2] if k not in 'HV' else here[0] if k == 'H' else here[1]) for j, x in enumerate(v)]
        if k == 'H': v = [v[0], here[1]]; k = 'L'
        elif k == 'V': v = [here[0], v[0]]; k = 'L'
        p = list(zip(v[::2], v[1::2])); here = p[-1]
        if k == 'M': out.append([('M', p)]); start = here; cmd = 'l' if cmd == 'm' else 'L'
        else: out[-1].append((k, p))
    return out
def close(c):
    """a closing line back to the start is no edge of its own"""
    if len(c) > 2 and c[-1][0] == 'L' and math.dist(c[-1][1][-1], c[0][1][0]) < 1e-6: c = c[:-1]
    return c
def oriented(z, u):
    """smallest box of points along direction u"""
    w = z*np.conj(u); x0, x1, y0, y1 = w.real.min(), w.real.max(), w.imag.min(), w.imag.max()
    return Polygon([((p*u).real, (p*u).imag) for p in (x0+1j*y0, x1+1j*y0, x1+1j*y1, x0+1j*y1)])
def line_of(d):
    out = []
    for c in contours(d):
        z = [c[0][1][0]]
        for k, p in c[1:]:
            if k == 'L': z.append(p[0])
            else:
                q = [z[-1]]+p; n = len(q)-1
                for t in np.linspace(0, 1, 9)[1:]:
                    z.append(tuple(sum(math.comb(n, j)*(1-t)**(n-j)*t**j*np.array(q[j]) for j in range(n+1))))
        out.append(z)
    return out

# ---------- SVG
def advance(words, faces_adv, size):
    return sum(faces_adv.get(c, 0.56) for c in words)*size
def read_svg(f, glyphs, adv):
    from xml.etree import ElementTree as etree
    r = etree.parse(f).getroot()
    return read_svg_root(r, glyphs, adv)
def read_svg_root(r, glyphs, adv):
    vb = [float(x) for x in (r.get('viewBox') or f"0 0 {r.get('width','0').rstrip('m')} {r.get('height','0').rstrip('m')}").split()]
    page = box(vb[0], vb[1], vb[0]+vb[2], vb[1]+vb[3]); texts, edges, odd = [], [], 0
    by_id = {e.get('id'): e for e in r.iter() if e.get('id')}
    def found(cs, m):
        got = glyphs.words(cs) if cs else None
        if got:
            w, size, u, bold, cap = got; z = np.concatenate([c[1] for c in cs])
            L = m[0, 0]+1j*m[1, 0]; z = z*L+complex(*m[:2, 2]); u = u*L/abs(L); size *= abs(L)
            texts.append(T(w, oriented(z, u), size*cap, 1, bold, z.imag.max(), size))
        return got
    def shown_again(e):
        """contours of a line whose letters are drawn elsewhere and shown by <use>"""
        uses = [c for c in e if isinstance(c.tag, str) and c.tag.split('}')[-1] == 'use']
        ref = lambda u: by_id[(u.get('href') or u.get('{http://www.w3.org/1999/xlink}href'))[1:]]
        return [(sig(close(c)), pts(close(c))+complex(float(u.get('x') or 0), float(u.get('y') or 0))) for u in uses for c in contours(ref(u).get('d') or '')]
    def walk(e, m, shown):
        nonlocal odd
        if not isinstance(e.tag, str): return
        tag = e.tag.split('}')[-1]
        if tag in ('defs', 'clipPath', 'symbol', 'pattern', 'marker'): return
        t = e.get('transform')
        if t: m = m @ matrix(t)
        if tag == 'text':
            size = float(e.get('font-size') or 0) or 1.0; w = ''.join(e.itertext()).strip()
            if w:
                W = advance(w, adv[1] if e.get('font-weight') in ('bold', '700', '600', '650') else adv[0], size)
                x = float(e.get('x') or 0); y = float(e.get('y') or 0); a = e.get('text-anchor') or 'start'
                x -= dict(start=0, middle=W/2, end=W).get(a, 0)
                up = CAP if re.search(r'[A-Z0-9bdfhkltij(){}\[\]"\'/]', w) else XH; dn = DESC if re.search(r'[gjpqy,;()Q/]', w) else 0.0
                P = np.array([[x, y-up*size], [x+W, y-up*size], [x+W, y+dn*size], [x, y+dn*size]])
                P = P @ m[:2, :2].T + m[:2, 2]; k = math.sqrt(abs(np.linalg.det(m[:2, :2])))
                texts.append(T(w, Polygon(P), size*k*CAP, 1, e.get('font-weight') == 'bold', P[3][1], size*k))
        elif tag == 'path' and e.get('d'):
            fill, stroke, i = e.get('fill'), e.get('stroke'), e.get('id') or ''
            if re.fullmatch(r'o\d+\w*|outline', i) or 'edge' in (e.get('class') or '').split():
                for l in line_of(e.get('d')):
                    if len(l) > 1: edges.append((i, LineString(np.array(l+[l[0]]) @ m[:2, :2].T + m[:2, 2])))
            elif fill not in (None, 'none') and not stroke and glyphs:
                cs = [(sig(close(c)), pts(close(c))) for c in contours(e.get('d'))]
                if not found(cs, m) and any('Q' in c[0] for c in cs): odd += 1
        elif tag == 'g' and glyphs:
            cs = shown_again(e)
            if cs and not found(cs, m): odd += 1
        for c in e: walk(c, m, shown)
    walk(r, np.eye(3), True)
    return [(page, texts, edges)], odd
def matrix(t):
    m = np.eye(3)
    for k, a in re.findall(r'(\w+)\(([^)]*)\)', t):
        v = [float(x) for x in re.split(r'[ ,]+', a.strip())]; n = np.eye(3)
        if k == 'translate': n[0, 2], n[1, 2] = v[0], v[1] if len(v) > 1 else 0
        elif k == 'scale': n[0, 0], n[1, 1] = v[0], v[-1]
        elif k == 'rotate':
            c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0])); n[:2, :2] = [[c, -s], [s, c]]
            if len(v) == 3: p = np.array(v[1:]); n[:2, 2] = p-n[:2, :2] @ p
        elif k == 'matrix': n[:2, :] = [[v[0], v[2], v[4]], [v[1], v[3], v[5]]]
        m = m @ n
    return m

# ---------- PDF
def read_pdf(f):
    import pymupdf
    doc = pymupdf.open(f); out = []
    for n, p in enumerate(doc, 1):
        r = p.rect; page = box(r.x0*MM, r.y0*MM, r.x1*MM, r.y1*MM); texts = []
        for b in p.get_text('rawdict', clip=pymupdf.INFINITE_RECT())['blocks']:
            for l in b.get('lines', ()):
                ux, uy = l['dir']; u = complex(ux, uy)
                for s in l['spans']:
                    # a line of one span may hold texts far apart: split at gaps wider than 0.8 em
                    run = []
                    def flush():
                        w = ''.join(c['c'] for c in run).strip(); cs = [c for c in run if c['c'].strip()]
                        if not w: return
                        size = s['size']; o = complex(*cs[0]['origin']); v = u*-1j   # up the letters
                        q = [complex(x, y) for c in cs for x, y in ((c['bbox'][0], c['bbox'][1]), (c['bbox'][2], c['bbox'][3]), (c['bbox'][0], c['bbox'][3]), (c['bbox'][2], c['bbox'][1]))]
                        if abs(ux) > 0.999 or abs(uy) > 0.999: far = max(((z-o)*np.conj(u)).real for z in q)
                        else: far = ((complex(*cs[-1]['origin'])-o)*np.conj(u)).real+0.56*size
                        up = CAP if re.search(r'[A-Z0-9bdfhkltij(){}\[\]"\'/]', w) else XH; dn = DESC if re.search(r'[gjpqy,;()Q/]', w) else 0.0
                        z = [o-v*dn*size, o+u*far-v*dn*size, o+u*far+v*up*size, o+v*up*size]
                        texts.append(T(w, Polygon([(k.real*MM, k.imag*MM) for k in z]), size*CAP*MM, n, 'old' in s['font'] or bool(s['flags'] & 16), o.imag*MM, size*MM))
                    last = None
                    for c in s['chars']:
                        x = ((complex(*c['origin']))*np.conj(u)).real
                        if last is not None and x-last > 1.6*s['size']: flush(); run = []
                        run.append(c)
                        if c['c'].strip(): last = x
                    flush()
        pg = Page((page, texts, [])); whole = max(r.width*r.height, 1)
        pg.pictured = sum((i['bbox'][2]-i['bbox'][0])*(i['bbox'][3]-i['bbox'][1]) for i in p.get_image_info())/whole
        if pg.pictured < 0.15 and len(texts) < 40:          # few words: a drawing may fill the page
            d = [k['rect'] for k in p.get_drawings() if k['rect'].width < 0.95*r.width and k['rect'].height < 0.95*r.height and min(k['rect'].width, k['rect'].height) > 3]
            if d: pg.pictured = max(pg.pictured, (max(k.x1 for k in d)-min(k.x0 for k in d))*(max(k.y1 for k in d)-min(k.y0 for k in d))/whole if sum(k.width*k.height for k in d) > 0.08*whole else 0)
        out.append(pg)
    return out

# ---------- findings
def check(pages, least=1.8, least_note=1.4, gap=0.0, margin=0.0, lines=False, odd=0, breaks=True):
    found = {k: [] for k in ('overlap', 'off-page', 'small', 'crossed', 'lone-row', 'heading-at-foot', 'no-text')}
    # running heads and feet: the same words, figures apart, at the same height on half of the pages or more
    often = {}
    for page, texts, _ in pages:
        for k in {(re.sub(r'\d+', '#', t.words), round(t.y)) for t in texts}: often[k] = often.get(k, 0)+1
    running = {k for k, c in often.items() if c >= max(2, 0.5*len(pages))}
    for n, one in enumerate(pages, 1):
        page, texts, edges = one
        inner = page.buffer(-margin+0.01, join_style=2)
        # the same words twice at one place (a rim of paper, or a bold made of two) are one text
        uniq = {}
        for t in texts:
            c = t.poly.centroid; uniq.setdefault((t.words, round(c.x, 1), round(c.y, 1)), t)
        texts = list(uniq.values()); P = [t.poly.buffer(0) for t in texts]
        for t, p in zip(texts, P):
            if not inner.contains(p): found['off-page'].append((n, t.words))
            if t.cap < (least_note if len(t.words) >= 12 else least)-5e-3: found['small'].append((n, t.words, round(t.cap, 2)))
        if P:
            tree = STRtree(P)
            for i, j in zip(*tree.query(P, predicate='dwithin', distance=gap)):
                if i < j and (gap > 0 or P[i].intersection(P[j]).area > 0.03): found['overlap'].append((n, texts[i].words, texts[j].words))
            if lines and edges:
                et = STRtree([l for _, l in edges])
                for t, p in zip(texts, P):
                    if len(et.query(p.buffer(-0.01), predicate='intersects')): found['crossed'].append((n, t.words))
        elif len(pages) == 1: found['no-text'].append((n, odd))
        if breaks and len(pages) > 1 and texts:
            level = [t for t in texts if abs(t.poly.exterior.coords[0][1]-t.poly.exterior.coords[1][1]) < 0.3]
            ys = {}
            for t in level: ys.setdefault(round(t.y/1.2), []).append(t)
            rows = [ys[k] for k in sorted(ys)]
            h = page.bounds[3]-page.bounds[1]
            body = [b for b in ([t for t in r if not (h*0.1 > t.y or t.y > h*0.88) or (re.sub(r'\d+', '#', t.words), round(t.y)) not in running] for r in rows) if b]
            body = [r for r in body if page.bounds[1]+0.03*h < r[0].y < page.bounds[1]+0.99*h]
            med = np.median([t.size for r in body for t in r]) if body else 0
            if body and n > 1 and len(body) <= 2 and getattr(one, 'pictured', 0) < 0.15: found['lone-row'].append((n, ' | '.join(t.words for t in body[-1])[:60]))
            if body and n < len(pages):
                last = body[-1]
                # a heading: alone in its line, larger or bold, not hanging from the line above it
                up = body[-2] if len(body) > 1 else None
                if up and len(last) == 1 and (last[0].size > 1.15*med or last[0].bold) and 4 <= len(last[0].words) < 60 and \
                   last[0].words[:1].isupper() and last[0].y-max(t.y for t in up) > 1.25*last[0].size and not last[0].words.endswith('.'):
                    found['heading-at-foot'].append((n, last[0].words))
    return found

def advances(files):
    out = []
    for f in files:
        from fontTools.ttLib import TTFont
        font = TTFont(f); out.append({chr(c): font['hmtx'][g][0]/font['head'].unitsPerEm for c, g in font.getBestCmap().items()})
    return (out+out)[:2] if out else [{}, {}]

def read(f, glyphs, adv):
    if f.lower().endswith('.pdf'): return read_pdf(f), 0
    if f.lower().endswith(('.html', '.htm')):
        from lxml import html
        pages, odd = [], 0
        for s in html.parse(f).getroot().iter('svg'):
            s.set('viewBox', s.get('viewBox') or s.get('viewbox') or '0 0 1 1'); p, o = read_svg_root(s, glyphs, adv); pages += p; odd += o
        return pages, odd
    return read_svg(f, glyphs, adv)

def self_test(faces):
    ok = []
    def expect(name, got, want): ok.append(got == want); print('ok  ' if got == want else 'FAIL', name, got, 'wanted', want)
    svg = lambda body: (lambda f: (f.write(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50">{body}</svg>'), f.close(), f.name)[2])(tempfile.NamedTemporaryFile('w', suffix='.svg', delete=False))
    adv = advances(faces); g = Glyphs(faces) if faces else None
    run = lambda body, **k: {a: len(b) for a, b in (lambda r: check(r[0], odd=r[1], **k))(read(svg(body), g, adv)).items() if b}
    t = lambda x, y, w, s=3, **a: f'<text x="{x}" y="{y}" font-size="{s}" '+' '.join(f'{k.replace("_","-")}="{v}"' for k, v in a.items())+f'>{w}</text>'
    expect('clean', run(t(5, 10, 'one')+t(5, 20, 'two')), {})
    expect('overlap', run(t(5, 10, 'one')+t(6, 10.5, 'two')), {'overlap': 1})
    expect('off the right', run(t(95, 10, 'too long')), {'off-page': 1})
    expect('off the top, turned', run(t(50, 5, 'upwards', transform='rotate(-90 50 5)')), {'off-page': 1})
    expect('turned by 45 apart, boxes upright would meet', run(t(20, 40, 'slanting text', transform='rotate(-45 20 40)')+t(32, 42, 'beside')), {})
    expect('small number', run(t(5, 10, '127', 2.2)), {'small': 1})
    expect('small note allowed', run(t(5, 10, 'a longer note here', 2.2)), {})
    expect('scaled group', run(f'<g transform="scale(2)">{t(5, 10, "12", 1.4)}</g>'), {})
    expect('crossed', run(t(5, 10, '12')+'<path id="o12" d="M 6 0 L 6 20 L 40 20 Z" fill="none" stroke="#000"/>', lines=True), {'crossed': 1})
    expect('rim and text are one', run(t(5, 10, '12', stroke='#fff')+t(5, 10, '12')), {})
    if faces:
        from fontTools.ttLib import TTFont
        from fontTools.pens.svgPathPen import SVGPathPen
        from fontTools.pens.transformPen import TransformPen
        font = TTFont(faces[-1]); gs = font.getGlyphSet(); u = font['head'].unitsPerEm; cm = font.getBestCmap()
        def outl(w, x, y, s, deg=0):
            pen = SVGPathPen(gs); c, n = math.cos(math.radians(deg))*s/u, math.sin(math.radians(deg))*s/u; at = 0
            for ch in w:
                gs[cm[ord(ch)]].draw(TransformPen(pen, (c, -n, -n, -c, x+at*c, y-at*n))); at += font['hmtx'][cm[ord(ch)]][0]
            return f'<path fill="#000" d="{pen.getCommands()}"/>'
        p, _ = read(svg(outl('Rim 17', 20, 40, 4, 30)), g, adv); T0 = p[0][1]
        expect('outlines are read', [(x.words.replace(' ', ''), round(x.cap, 2)) for x in T0], [('Rim17', round(4*T0[0].cap/T0[0].size, 2))] if T0 else 1)
        expect('outlines overlap', run(outl('front', 20, 40, 4, 30)+outl('back', 22, 39, 4, 30)), {'overlap': 1})
        expect('an arrow is no text', run('<path fill="#000" d="M 0 0 L 1 0 L 1 4 L 2 4 L 0 8 L -2 4 L -1 4 Z"/>'+outl('front', 20, 40, 4)), {})
    try:
        import pymupdf
        d = pymupdf.open()
        for k in range(3): d.new_page(width=300, height=400)
        for i in range(20): d[0].insert_text((30, 40+15*i), f'row {i}', fontsize=9)
        d[0].insert_text((30, 355), 'Next part', fontsize=14)
        for i in range(10): d[1].insert_text((30, 40+15*i), f'row {i}', fontsize=9)
        d[1].insert_text((280, 200), 'over the edge', fontsize=9)
        d[2].insert_text((30, 60), 'alone', fontsize=9)
        f = tempfile.mktemp(suffix='.pdf'); d.save(f)
        expect('pdf', {a: len(b) for a, b in check(read_pdf(f)).items() if b}, {'off-page': 1, 'lone-row': 1, 'heading-at-foot': 1})
    except ImportError: print('skip pdf')
    return 0 if all(ok) else 1

def main(a):
    opt = dict(least=1.8, least_note=1.4, gap=0.0, margin=0.0, lines=False); files, faces, limits, js, show, test = [], [], {}, False, 8, False
    while a:
        x = a.pop(0)
        if x == '--self-test': test = True
        elif x == '--faces':
            while a and a[0].lower().endswith(('.ttf', '.otf')): faces.append(a.pop(0))
        elif x in ('--least', '--least-note', '--gap', '--margin'): opt[x[2:].replace('-', '_')] = float(a.pop(0))
        elif x == '--lines': opt['lines'] = True
        elif x == '--limit': k, n = a.pop(0).split('='); limits[k] = int(n)
        elif x == '--json': js = True
        elif x == '--show': show = int(a.pop(0))
        elif x in ('-h', '--help'): print(__doc__); return 0
        else: files.append(x)
    if test: return self_test(faces)
    g = Glyphs(faces) if faces else None; adv = advances(faces); bad = 0
    for f in files:
        pages, odd = read(f, g, adv); found = check(pages, odd=odd, breaks=f.lower().endswith('.pdf'), **opt); n = sum(len(p[1]) for p in pages)
        if js: print(json.dumps(dict(file=f, pages=len(pages), texts=n, unread=odd, **{k: v for k, v in found.items()}), default=str))
        else:
            print(f"{f}: {len(pages)} pages, {n} texts"+(f", {odd} curved fills that are no text of the faces" if odd else '')+''.join(f", {k} {len(v)}" for k, v in found.items() if v))
            for k, v in found.items():
                for w in v[:show]: print('   ', k, *w)
                if len(v) > show > 0: print('    ...')
        bad |= any(len(found.get(k, ())) > m for k, m in limits.items())
    return int(bad)
if __name__ == '__main__': sys.exit(main(sys.argv[1:]))
