"""Writes the hand-* and bad/* PDFs: every object spelt out, nothing but Python's standard library and Pillow (for JPEG).

Run from this folder: python3 hand.py
All pages are 192 x 192 points (400 x 400 pixels at 150 pixels per inch) unless the file is about its page's size.
"""
import io
import os
import zlib

from PIL import Image

OUT = ".."


def pdf(objects, version="1.7"):
    out, offsets = b"%PDF-" + version.encode() + b"\n%\xe2\xe3\xcf\xd3\n", []
    for number, body in enumerate(objects, 1):
        offsets.append(len(out))
        body = body if isinstance(body, bytes) else body.encode("latin-1")
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    xref = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % offset for offset in offsets)
    return out + b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, xref)


def stream(keys, content):
    content = content if isinstance(content, bytes) else content.encode("latin-1")
    return ("<< %s /Length %d >>\nstream\n" % (keys, len(content))).encode("latin-1") + content + b"\nendstream"


def flate(keys, samples):
    return stream(keys + " /Filter /FlateDecode", zlib.compress(bytes(samples), 9))


def image(w, h, space, samples, keys="", bits=8):
    return flate(f"/Type /XObject /Subtype /Image /Width {w} /Height {h} /ColorSpace {space} /BitsPerComponent {bits} {keys}", samples)


def form(content, resources="", keys="", box="0 0 192 192"):
    return stream(f"/Type /XObject /Subtype /Form /BBox [{box}] /Resources << {resources} >> {keys}", content)


def group(content, resources="", flags="", space="/DeviceCMYK", keys="", box="0 0 192 192"):
    cs = f"/CS {space}" if space else ""
    return form(content, resources, f"/Group << /Type /Group /S /Transparency {cs} {flags} >> {keys}", box)


def save(name, resources, content, *extra, keys="", box="0 0 192 192", catalog="", pages=""):
    """One page; extra objects are numbered from 5."""
    body = pdf([
        f"<< /Type /Catalog /Pages 2 0 R {catalog} >>",
        f"<< /Type /Pages /Kids [3 0 R] /Count 1 {pages} >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [{box}] /Contents 4 0 R /Resources << {resources} >> {keys} >>",
        stream("", content) if len(content) < 10000 else flate("", content.encode("latin-1")), *extra])
    os.makedirs(os.path.dirname(os.path.join(OUT, name)) or ".", exist_ok=True)
    with open(os.path.join(OUT, name + ".pdf"), "wb") as file:
        file.write(body)


def tint(*full):
    """Tint transform of type 2 from nothing to full."""
    return f"<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [{' '.join('0' * len(full))}] /C1 [{' '.join(map(str, full))}] >>"


WHITE = f"[/Separation /White /DeviceCMYK {tint(0.4, 0, 0.4, 0)}]"
AMBER = f"[/Separation /Amber /DeviceCMYK {tint(0, 0.4, 0.9, 0.05)}]"


def circle(x, y, r):
    k = 0.5522847498 * r
    return (f"{x} {y - r} m {x + k:.4f} {y - r} {x + r} {y - k:.4f} {x + r} {y} c {x + r} {y + k:.4f} {x + k:.4f} {y + r} {x} {y + r} c "
            f"{x - k:.4f} {y + r} {x - r} {y + k:.4f} {x - r} {y} c {x - r} {y - k:.4f} {x - k:.4f} {y - r} {x} {y - r} c h")


def frame(x, y, w, h):
    """Takes away what lies within 24 points round a rectangle: renderers differ in how far the edge of a shading reaches."""
    return f" 0 0 0 0 k {x - 24} {y - 24} {w + 48} {h + 48} re {x} {y} {w} {h} re f*"


# A bar of full ink: tints and shades differ by half a level, as renderers round or cut off, which must not decide the area of a plane.
BAR = " 1 1 1 1 k 0 184.32 192 7.68 re f"


def lantern(x, y, s):
    """A lantern: cap, body, foot. s is its height in points."""
    u = s / 12
    return (f"{x + 3 * u} {y} {6 * u} {u} re {x + 3 * u} {y + 11 * u} {6 * u} {u} re "
            f"{x + 2 * u} {y + u} m {x + 10 * u} {y + u} l {x + 12 * u} {y + 6 * u} l {x + 10 * u} {y + 11 * u} l {x + 2 * u} {y + 11 * u} l {x} {y + 6 * u} l h")


def process():
    save("hand-process", "", "\n".join([
        "0 0 0 1 k", lantern(12, 108, 57.6), "f",
        "0.2 0.6 0 0.2 k 96 108 36 72 re f", "0.4 g 144 108 36 36 re f",
        "0.2 0.8 0.4 rg 144 144 36 36 re f",
        "0 0.6 1 0 K 6 w 18 18 48 72 re S", "0.8 G 30 30 24 48 re S",
        "0.6 0.4 0.8 RG 4.8 w 84 24 m 132 90 l S",
        "1 0 0 rg 0 1 0 0 K 144 18 36 72 re B",
        "0 g /DeviceCMYK cs 0.6 0.4 0.4 0.2 sc 96 66 24 24 re f",
        "/DeviceGray CS 84 90 m 90 96 l S /DeviceRGB cs 156 42 12 24 re f",
    ]))


def white_tints():
    steps = "\n".join(f"/W cs {t} scn {12 + 24 * i} 108 24 72 re f" for i, t in enumerate([1, 0.8, 0.6, 0.4, 0.2, 0.0667, 0]))
    save("hand-white-tints", f"/ColorSpace << /W {WHITE} >>", "\n".join([
        "1 0 0 0 k 12 132 168 24 re f", steps,
        "1 scn 24 24 48 60 re f /W CS 9.6 w 0.6 SCN 96 24 60 60 re S",
        "/W cs 1 scn 0 0 0 1 k", circle(126, 54, 18), "f",
    ]))


def spot_unknown():
    fn = stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]", "{ dup 0.15 mul exch dup 0.8 mul exch dup dup mul exch 0.1 mul }")
    save("hand-spot-unknown", "/ColorSpace << /L [/Separation /Quillmoor#20Glow /DeviceCMYK 5 0 R] /M [/Separation /Moss /DeviceRGB 6 0 R] /A [/Separation /Ash /DeviceGray 7 0 R] >>", "\n".join([
        "/L cs 1 scn", lantern(12, 96, 72), "f", "0.4 scn 108 108 72 72 re f",
        "/M cs 1 scn 12 12 48 72 re f 0.6 scn 60 12 36 72 re f",
        "/A cs 0.8 scn 108 12 36 72 re f /A CS 0.4 SCN 12 w 156 12 m 156 84 l S",
    ]), fn, stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1]", "{ 1 exch sub dup 0.4 mul 0.6 add exch dup sqrt exch }"),
        "<< /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0.2] /N 1.8 >>")


def functions():
    """Tint transforms of type 0 (linear), 3, 4 with conditions, and one of two inputs; their effect is seen where a spot is printed as its alternate."""
    sampled = flate("/FunctionType 0 /Domain [0 1] /Range [0 1 0 1 0 1 0 1] /Size [5] /BitsPerSample 8 /Encode [0 4] /Decode [0 1 0 1 0 1 0 1]",
                    [0, 0, 0, 0, 20, 10, 90, 0, 60, 30, 160, 5, 120, 80, 200, 20, 200, 180, 230, 64])
    stitched = ("<< /FunctionType 3 /Domain [0 1] /Bounds [0.5] /Encode [0 1 1 0] /Functions [ "
                "<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0.8 0.2 0 0] /N 1 >> << /FunctionType 2 /Domain [0 1] /C0 [0 0.9 0.3 0] /C1 [0.8 0.2 0 0] /N 1 >> ] >>")
    branching = stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]",
                       "{ dup 0.5 lt { 2 mul 0 0 0 } { 1 exch 0.5 sub 2 mul dup 0.25 mul exch 0 exch } ifelse 4 1 roll }")
    two = flate("/FunctionType 0 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1] /Size [2 2] /BitsPerSample 8",
                [0, 0, 0, 0, 200, 40, 0, 0, 0, 160, 80, 20, 180, 180, 90, 90])
    spaces = "/A [/Separation /Dusk /DeviceCMYK 5 0 R] /B [/Separation /Heath /DeviceCMYK 6 0 R] /C [/Separation /Tarn /DeviceCMYK 7 0 R] /D [/DeviceN [/Dusk /Heath] /DeviceCMYK 8 0 R]"
    marks = [f"/{space} cs {t} scn {12 + 24 * i} {132 - 42 * j} 24 36 re f"
             for j, space in enumerate("ABC") for i, t in enumerate([0.1, 0.3, 0.45, 0.5, 0.62, 0.8, 1])]
    marks += [f"/D cs {a} {b} scn {12 + 24 * i} 6 24 36 re f" for i, (a, b) in enumerate([(0, 0), (1, 0), (0, 1), (1, 1), (0.5, 0.5), (0.25, 0.75), (0.9, 0.3)])]
    save("hand-functions", f"/ColorSpace << {spaces} >>", "\n".join(marks), sampled, stitched, branching, two)


def devicen():
    fn = "{ pop pop dup 0.5 mul 0 }"
    save("hand-devicen", "/ColorSpace << /N [/DeviceN [/Cyan /White /Amber /None] /DeviceCMYK 5 0 R] /P [/DeviceN [/Magenta /Black] /DeviceCMYK 6 0 R] "
         f"/X [/DeviceN [/Amber /Yellow] /DeviceCMYK 7 0 R << /Subtype /NChannel /Colorants << /Amber {AMBER} >> /Process << /ColorSpace /DeviceCMYK /Components [/Cyan /Magenta /Yellow /Black] >> >>] >>",
         "\n".join([
             "0 0 0.4 0.2 k 7.2 7.2 177.6 177.6 re f",
             "/N cs 1 0.6 0.2 1 scn", lantern(12, 108, 57.6), "f", "0 1 0 0.6 scn 96 108 36 72 re f 0.4 0.2 0.8 0 scn 144 108 36 72 re f",
             "/P cs 0.8 0.2 scn 12 12 48 84 re f /P CS 0.2 0.8 SCN 9.6 w 78 18 m 78 90 l S",
             "/X cs 0.8 0.4 scn 96 12 36 84 re f 0 1 scn 144 12 36 84 re f",
         ]),
         stream("/FunctionType 4 /Domain [0 1 0 1 0 1 0 1] /Range [0 1 0 1 0 1 0 1]", fn),
         stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ 0 3 1 roll 0 exch }"),
         stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch dup 0.4 mul exch 0.9 mul 3 -1 roll add dup 1 gt { pop 1 } if 0 3 1 roll 0 }"))


def all_none():
    save("hand-all-none", f"/ColorSpace << /All [/Separation /All /DeviceGray << /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0] /N 1 >>] /None [/Separation /None /DeviceGray << /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0] /N 1 >>] /W {WHITE} >>",
         "\n".join([
             "0.4 0.2 0 0 k 12 60 168 72 re f /W cs 0.8 scn 60 12 72 168 re f",
             "/All cs 1 scn 24 24 24 144 re f 0.6 scn 84 24 24 144 re f /All CS 0.4 SCN 7.2 w 120 36 m 174 36 l S",
             "/None cs 1 scn 140 60 36 72 re f /None CS 12 w 60 96 m 132 96 l S",
         ]))


def images_indexed():
    cells = bytes((3 * x + 5 * y) % 6 for y in range(8) for x in range(8))
    packed = bytes((((3 * x + 5 * y) % 4) << 6 | ((3 * x + 3 + 5 * y) % 4) << 4 | ((3 * x + 6 + 5 * y) % 4) << 2 | ((3 * x + 9 + 5 * y) % 4)) for y in range(8) for x in (0, 4))
    cmyk = bytes([255, 0, 0, 0, 0, 255, 0, 0, 0, 0, 255, 0, 0, 0, 0, 255, 128, 64, 32, 16, 0, 0, 0, 0]).hex()
    rgb = bytes([200, 40, 40, 255, 255, 255, 0, 0, 0, 51, 102, 153]).hex()
    save("hand-images-indexed", "/XObject << /A 5 0 R /B 6 0 R /C 7 0 R /D 8 0 R >>",
         "q 76.8 0 0 76.8 12 108 cm /A Do Q q 76.8 0 0 76.8 108 108 cm /B Do Q q 76.8 0 0 76.8 12 12 cm /C Do Q q 76.8 0 0 -76.8 108 88.8 cm /D Do Q",
         image(8, 8, f"[/Indexed /DeviceCMYK 5 <{cmyk}>]", cells),
         image(8, 8, f"[/Indexed /DeviceRGB 3 <{rgb}>]", packed, bits=2),
         image(8, 8, f"[/Indexed {WHITE} 5 <0040 80 A0 C0 FF>]", cells),
         image(8, 8, "[/Indexed 9 0 R 5 10 0 R]", cells),
         "[/DeviceN [/White /Black] /DeviceCMYK 11 0 R]",
         stream("", bytes([0, 0, 255, 0, 0, 255, 128, 128, 64, 200, 10, 20])),
         stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch 0.4 mul 0 0 4 -1 roll }"))


def jpeg(mode, size, fn, **keys):
    picture = Image.new(mode, (size, size))
    picture.putdata([fn(x, y) for y in range(size) for x in range(size)])
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=92, subsampling=0, **keys)
    return out.getvalue()


def images_dct():
    """A CMYK JPEG with the Adobe marker, whose samples are inverted (Decode 1 0), the same taken as it stands, RGB and grey JPEGs; all 1 pixel to 1 at 150 ppi."""
    def smooth(x, y):
        return (x * 255 // 149, y * 255 // 149, 255 - x * 200 // 149, (x + y) * 120 // 298)
    cmyk = jpeg("CMYK", 150, smooth)  # Pillow writes Adobe's marker and inverts
    rgb = jpeg("RGB", 150, lambda x, y: (255 - x, y * 255 // 149, 128))
    grey = jpeg("L", 150, lambda x, y: 255 - (x * y * 255) // (149 * 149))
    def dct(space, data, keys=""):
        return stream(f"/Type /XObject /Subtype /Image /Width 150 /Height 150 /ColorSpace {space} /BitsPerComponent 8 /Filter /DCTDecode {keys}", data)
    save("hand-images-dct", "/XObject << /A 5 0 R /B 6 0 R /C 7 0 R /D 8 0 R >>",
         "q 72 0 0 72 12 108 cm /A Do Q q 72 0 0 72 108 108 cm /B Do Q q 72 0 0 72 12 12 cm /C Do Q q 72 0 0 72 108 12 cm /D Do Q",
         dct("/DeviceCMYK", cmyk, "/Decode [1 0 1 0 1 0 1 0]"), dct("/DeviceCMYK", cmyk), dct("/DeviceRGB", rgb), dct("/DeviceGray", grey))


def png_rows(rows, bpp):
    out, above = bytearray(), bytes(len(rows[0]))
    for row in rows:
        out.append(2)
        out += bytes((a - b) & 255 for a, b in zip(row, above))
        above = row
    return bytes(out)


def images_flate():
    rgb = [bytes(v for x in range(150) for v in (x, 255 - y, (x * y) % 256)) for y in range(150)]
    cmyk4 = bytes(((x % 16) << 4 | (y % 16)) for y in range(8) for x in range(16))
    grey16 = bytes(v for y in range(6) for x in range(6) for v in divmod((x + 6 * y) * 1820, 256))
    save("hand-images-flate", "/XObject << /A 5 0 R /B 6 0 R /C 7 0 R /D 8 0 R >>",
         "q 72 0 0 72 12 108 cm /A Do Q q 76.8 0 0 76.8 108 108 cm /B Do Q q 72 0 0 72 12 12 cm /C Do Q q 72 0 0 72 108 12 cm /D Do Q",
         image(150, 150, "/DeviceRGB", png_rows(rgb, 3), "/DecodeParms << /Predictor 15 /Colors 3 /Columns 150 >>"),
         image(8, 8, "/DeviceCMYK", cmyk4, bits=4),
         image(6, 6, "/DeviceGray", grey16, bits=16),
         image(6, 6, WHITE, bytes((x * 7 + y * 40) % 256 for y in range(6) for x in range(6)), "/Decode [0.2 0.9]"))


def image_masks():
    rows = bytes([0b00111100, 0b01111110, 0b11011011, 0b11111111, 0b11111111, 0b10111101, 0b01000010, 0b00111100])
    def mask(keys=""):
        return flate(f"/Type /XObject /Subtype /Image /Width 8 /Height 8 /ImageMask true /BitsPerComponent 1 {keys}", rows)
    save("hand-image-masks", f"/ColorSpace << /W {WHITE} >> /XObject << /A 5 0 R /B 6 0 R >>",
         b"1 0 0 0 k 12 60 168 24 re f\n0 0 0 1 k q 76.8 0 0 76.8 12 108 cm /A Do Q /W cs 0.8 scn q 76.8 0 0 76.8 108 108 cm /B Do Q "
         b"0.2 0.4 0.6 rg q 76.8 0 0 76.8 12 12 cm /A Do Q /W cs 1 scn q 76.8 0 0 76.8 108 12 cm\nBI /W 8 /H 8 /IM true /BPC 1 /D [1 0] ID " + rows + b"\nEI Q\n",
         mask(), mask("/Decode [1 0]"))


def image_softmasks():
    base = bytes(v for y in range(6) for x in range(6) for v in (40 * x, 255 - 40 * y, 30, 20))
    soft = bytes(255 * x // 5 for y in range(6) for x in range(6))
    rows = bytes([0b11000000, 0b00110000, 0b11001100, 0b00110000, 0b11110000, 0b00001100])
    save("hand-image-softmasks", "/XObject << /A 5 0 R /B 7 0 R /C 9 0 R /D 10 0 R >>",
         "0 0 0.6 0 k 7.2 7.2 177.6 177.6 re f q 72 0 0 72 12 108 cm /A Do Q q 72 0 0 72 108 108 cm /B Do Q q 72 0 0 72 12 12 cm /C Do Q q 72 0 0 72 108 12 cm /D Do Q",
         image(6, 6, "/DeviceCMYK", base, "/SMask 6 0 R"), image(6, 6, "/DeviceGray", soft),
         image(6, 6, "/DeviceCMYK", base, "/Mask 8 0 R"),
         flate("/Type /XObject /Subtype /Image /Width 6 /Height 6 /ImageMask true /BitsPerComponent 1", rows),
         image(6, 6, "/DeviceCMYK", base, "/Mask [0 80 0 255 0 255 0 255]"),
         image(6, 6, WHITE, soft, "/SMask 6 0 R"))


def axial():
    cmyk = "<< /FunctionType 2 /Domain [0 1] /C0 [1 0.2 0 0] /C1 [0.4 0.6 1 0.4] /N 1 >>"
    stitched = ("<< /FunctionType 3 /Domain [0 1] /Bounds [0.4] /Encode [0 1 0 1] /Functions [ << /FunctionType 2 /Domain [0 1] /C0 [0.6] /C1 [1] /N 1 >> "
                "<< /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0.4] /N 2 >> ] >>")
    n = stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1]", "{ 0.6 mul 0.2 add dup 1 exch sub }")
    save("hand-shading-axial", f"/Shading << /A << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [12 0 180 0] /Function {cmyk} >> "
         f"/W << /ShadingType 2 /ColorSpace {WHITE} /Coords [24 24 84 84] /Function {stitched} /Extend [true false] >> "
         "/N << /ShadingType 2 /ColorSpace [/DeviceN [/White /Black] /DeviceCMYK 6 0 R] /Coords [0 12 0 84] /Function 5 0 R >> >> "
         f"/Pattern << /P << /PatternType 2 /Matrix [1 0 0 1 12 0] /Shading << /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 100 60 132] /Function {tint(0.2, 0.9, 0.4)} /Extend [true true] >> >> >>",
         "\n".join(["q 12 144 168 36 re W n /A sh Q", "q 9 9 78 78 re W n /W sh Q" + frame(12, 12, 72, 72), "q 105 9 78 78 re W n /N sh Q" + frame(108, 12, 72, 72) + BAR,
                    "/Pattern cs /P scn 12 96 72 36 re f /Pattern CS /P SCN 9.6 w 108 108 m 180 108 l S"]),
         n, stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch 0.4 mul 0 0 4 -1 roll }"))


def radial():
    f = "<< /FunctionType 2 /Domain [0 1] /C0 [0.4 0.4 0 0] /C1 [0.2 0.8 0.4 0.2] /N 1 >>"
    w = "<< /FunctionType 2 /Domain [0 1] /C0 [0.8] /C1 [0.4] /N 1 >>"
    save("hand-shading-radial", f"/Shading << /A << /ShadingType 3 /ColorSpace /DeviceCMYK /Coords [54 138 6 54 138 40] /Function {f} /Extend [true true] >> "
         f"/B << /ShadingType 3 /ColorSpace {WHITE} /Coords [132 138 0 150 138 30] /Function {w} /Extend [true true] >> "
         f"/C << /ShadingType 3 /ColorSpace /DeviceGray /Coords [48 48 30 48 48 0] /Function {w} /Extend [false true] >> >>",
         "\n".join(["q 9 93 90 90 re W n /A sh Q" + frame(12, 96, 84, 84), "q 111 93 72 90 re W n /B sh Q" + frame(115.2, 96, 64.8, 84), BAR, "q 9 9 78 78 re W n /C sh Q" + frame(12, 12, 72, 72)]))


def function_shading():
    save("hand-shading-function", "/Shading << /A << /ShadingType 1 /ColorSpace /DeviceCMYK /Domain [0 1 0 1] /Matrix [84 0 0 84 12 96] /Function 5 0 R >> "
         f"/B << /ShadingType 1 /ColorSpace {WHITE} /Domain [0 2 0 1] /Matrix [30 10 -10 50 116 100] /Function 6 0 R >> >>",
         "/A sh /B sh " + frame(14.4, 98.4, 79.2, 79.2) + frame(124.8, 120, 33.6, 26.4) + BAR,
         stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ 2 copy mul 3 1 roll 0.6 mul 0.2 add exch 0.6 mul 0.2 add exch 3 -1 roll 0 }"),
         stream("/FunctionType 4 /Domain [0 2 0 1] /Range [0 1]", "{ exch 0.2 mul add 0.4 mul 0.4 add }"))


def mesh_point(flag, x, y, colour, most=192):
    out = bytes([flag]) if flag is not None else b""
    return out + round(x / most * 65535).to_bytes(2, "big") + round(y / most * 65535).to_bytes(2, "big") + bytes(colour)


def meshes():
    decode4 = "/Decode [0 192 0 192 0 1 0 1 0 1 0 1]"
    free = b"".join(mesh_point(f, x, y, c) for f, x, y, c in [
        (0, 26.4, 110.4, (204, 51, 0, 0)), (0, 84, 108, (51, 204, 51, 0)), (0, 48, 180, (51, 51, 204, 51)), (1, 96, 180, (0, 51, 51, 204))])
    lattice = b"".join(mesh_point(None, 108 + 36 * i, 108 + 36 * j, (102 + (i * 3 + j * 5) * 6,)) for j in range(3) for i in range(3))
    edge = [(12, 12), (12, 36), (12, 60), (12, 84), (36, 90), (60, 78), (84, 84), (84, 60), (84, 36), (84, 12), (60, 6), (36, 18)]
    def patch(points, colours):
        return b"\0" + b"".join(mesh_point(None, x, y, ()) for x, y in points) + b"".join(map(bytes, colours))
    coons = patch(edge, [(204, 51, 51, 51), (51, 204, 51, 51), (51, 51, 204, 51), (51, 51, 51, 153)])
    shifted = [(x + 96, y) for x, y in edge]
    tensor = patch(shifted + [(x + 96, y) for x, y in [(36, 36), (36, 60), (60, 60), (60, 36)]], [(204,), (153,), (102,), (179,)])
    common = "/BitsPerCoordinate 16 /BitsPerComponent 8 /BitsPerFlag 8"
    save("hand-shading-mesh", f"/ColorSpace << /W {WHITE} >> /Shading << /A 5 0 R /B 6 0 R >>", "/A sh /B sh" + frame(48, 120, 28.8, 48) + frame(115.2, 115.2, 57.6, 57.6) + BAR,
         flate(f"/ShadingType 4 /ColorSpace /DeviceCMYK {common} {decode4}", free),
         flate(f"/ShadingType 5 /VerticesPerRow 3 /ColorSpace {WHITE} /BitsPerCoordinate 16 /BitsPerComponent 8 /Decode [0 192 0 192 0 1]", lattice))
    save("hand-shading-patch", f"/ColorSpace << /W {WHITE} >> /Shading << /C 5 0 R /D 6 0 R >>", "/C sh /D sh" + frame(24, 24, 48, 48) + frame(120, 24, 48, 48) + BAR,
         flate(f"/ShadingType 6 /ColorSpace /DeviceCMYK {common} {decode4}", coons),
         flate(f"/ShadingType 7 /ColorSpace {WHITE} {common} /Decode [0 192 0 192 0 1]", tensor))


def tilings():
    cell = "0 0 0 1 k 0 0 12 12 re f /W cs 0.6 scn 12 12 12 12 re f 1 0 0 rg 12 0 7.2 7.2 re f"
    keys = "/Type /Pattern /PatternType 1 /TilingType 1 /BBox [0 0 24 24] /XStep 24 /YStep 24"
    save("hand-tilings", f"/ColorSpace << /W {WHITE} /U [/Pattern /DeviceCMYK] /V [/Pattern {WHITE}] >> /Pattern << /C 5 0 R /U 6 0 R >>",
         "\n".join(["/Pattern cs /C scn 12 108 72 72 re f", "/U cs 0.2 0.8 0 0.1 /U scn 108 108 72 72 re f",
                    "/V cs 0.75 /U scn 12 12 72 72 re f", "/V CS 1 /U SCN 24 w 144 12 m 144 84 l S"]),
         stream(f"{keys} /PaintType 1 /Resources << /ColorSpace << /W {WHITE} >> >>", cell),
         stream(f"{keys} /PaintType 2 /Matrix [1 0 0 1 12 12] /Resources << >>", "0 0 12 24 re f 16.8 7.2 7.2 9.6 re f"))


def tilings_alpha():
    cell = "0 0 0 1 k 0 0 12 12 re f /W cs 1 scn 12 12 12 12 re f"
    keys = "/Type /Pattern /PatternType 1 /TilingType 1 /BBox [0 0 24 24] /XStep 24 /YStep 24"
    save("hand-tilings-alpha", f"/ColorSpace << /W {WHITE} /U [/Pattern /DeviceCMYK] >> /Pattern << /C 5 0 R /U 6 0 R >> /ExtGState << /H << /ca 0.6 /CA 0.6 >> /M << /ca 1 /BM /Multiply >> >> /XObject << /F 7 0 R >>",
         "\n".join(["0 0 0.8 0 k 7.2 48 177.6 24 re f 7.2 132 177.6 24 re f", "/H gs /Pattern cs /C scn 12 108 72 72 re f", "/U CS 1 1 0 0 /U SCN 24 w 120 108 m 120 180 l S",
                    "/M gs /Pattern cs /C scn 12 12 72 72 re f", "q 0.5 0 0 0.5 108 12 cm /F Do Q"]),
         stream(f"{keys} /PaintType 1 /Resources << /ColorSpace << /W {WHITE} >> >>", cell),
         stream(f"{keys} /PaintType 2 /Matrix [1 0 0 1 12 12] /Resources << >>", "0 0 12 24 re f"),
         form("/Pattern cs /C scn 0 0 144 144 re f", "/Pattern << /C 5 0 R >>", box="0 0 144 144"))


def forms():
    save("hand-forms", f"/ColorSpace << /W {WHITE} >> /XObject << /F 5 0 R /G 6 0 R >>",
         "\n".join(["/W cs 0.8 scn 0 0 0 0.8 K q 1 0 0 1 12 108 cm /F Do Q",
                    "1 0 0 0 k q 0.5 0 0 0.5 108 108 cm /F Do Q", "0.4 g 12 12 24 72 re f",
                    "q 0.6 0.2 0.2 rg 0 1 -1 0 180 12 cm /F Do Q 36 12 24 72 re f", "/W cs 0.6 scn q 1 0 0 1 12 20 cm /G Do Q"]),
         form("0 0 48 72 re f 12 w 60 6 m 60 66 l S q 1 0 0 1 24 24 cm /G Do Q 0 1 0 0 k 0 60 24 12 re f", "/XObject << /G 6 0 R >>", box="0 0 72 72"),
         form("0 0 12 12 re f 0 0 1 0 k 12 12 24 24 re f", box="0 0 24 24"))


def type3():
    save("hand-type3", f"/ColorSpace << /W {WHITE} >> /Font << /L 5 0 R >>",
         "\n".join(["BT /L 72 Tf 0 0 0 1 k 12 108 Td (ab) Tj ET", "BT /W cs 0.8 scn /L 48 Tf 12 24 Td (ab) Tj 84 0 Td (ba) Tj ET"]),
         "<< /Type /Font /Subtype /Type3 /FontBBox [0 0 1000 1000] /FontMatrix [0.001 0 0 0.001 0 0] /FirstChar 97 /LastChar 98 /Widths [1000 600] "
         "/Encoding << /Type /Encoding /Differences [97 /lantern /flame] >> /CharProcs << /lantern 6 0 R /flame 7 0 R >> /Resources << >> >>",
         stream("", "1000 0 0 0 900 900 d1 0 0 900 300 re f 300 300 300 600 re f"),
         stream("", "600 0 d0 0 1 0.6 0 k 0 0 400 800 re f 1 g 100 200 200 300 re f"))


def groups():
    two = "1 0 0 0 k 0 0 48 48 re f 0 1 0 0 k 24 24 48 48 re f"
    half = "/E gs " + two
    e = "/ExtGState << /E << /ca 0.6 >> >>"
    save("hand-groups", "/ExtGState << /H << /ca 0.6 >> /S << /ca 1 >> >> /XObject << /A 5 0 R /B 6 0 R /C 7 0 R /D 8 0 R >>",
         "\n".join(["0 0 1 0 k 7.2 48 177.6 24 re f 7.2 132 177.6 24 re f", "q /H gs 1 0 0 1 12 108 cm /A Do Q", "q 1 0 0 1 108 108 cm /B Do Q",
                    "q 1 0 0 1 12 12 cm /C Do Q", "q /H gs 1 0 0 1 108 12 cm /D Do Q"]),
         group(two, "", "/I false /K false"), group(half, e, "/I true"), group(half, e, "/I false /K false"), group(half, e, "/I true"),
         keys="/Group << /Type /Group /S /Transparency /CS /DeviceCMYK /I true >>")


def group_knockout():
    save("hand-group-knockout-isolated", "/XObject << /A 5 0 R >>", "0 0 1 0 k 12 12 84 168 re f /A Do",
         group("/E gs 1 0 0 0 k 24 24 96 96 re f 0 1 0 0 k 72 72 96 96 re f", "/ExtGState << /E << /ca 0.6 >> >>", "/I true /K true"),
         keys="/Group << /Type /Group /S /Transparency /CS /DeviceCMYK /I true >>")


def group_white():
    save("hand-group-white", f"/ColorSpace << /W {WHITE} >> /ExtGState << /H << /ca 0.4 /CA 0.8 >> /S << /ca 1 >> >> /XObject << /A 5 0 R >>",
         "\n".join(["0.6 0 0 0.6 k 12 84 168 24 re f", "q /H gs 1 0 0 1 12 12 cm /A Do Q", "/H gs /W cs 1 scn 108 12 72 168 re f", "/W CS 0.8 SCN 12 w 96 18 m 96 174 l S", "/S gs" + BAR]),
         group("/W cs 1 scn 0 0 60 120 re f 0 0 0 1 k 12 60 36 96 re f", f"/ColorSpace << /W {WHITE} >>", "/I true"))


def softmasks():
    shade = "<< /ShadingType 2 /ColorSpace /DeviceGray /Coords [0 0 192 0] /Function << /FunctionType 2 /Domain [0 1] /C0 [0] /C1 [1] /N 1 >> >>"
    save("hand-softmasks", f"/ColorSpace << /W {WHITE} >> /ExtGState << /L << /SMask << /Type /Mask /S /Luminosity /G 5 0 R >> >> "
         "/B << /SMask << /Type /Mask /S /Luminosity /G 6 0 R /BC [1] >> >> /T << /SMask << /Type /Mask /S /Luminosity /G 5 0 R /TR << /FunctionType 2 /Domain [0 1] /C0 [1] /C1 [0] /N 1 >> >> >> "
         "/A << /SMask << /Type /Mask /S /Alpha /G 7 0 R >> >> /N << /SMask /None >> >>",
         "\n".join(["/L gs 0 0 0 1 k 12 144 168 36 re f", "/W cs 1 scn 12 108 168 24 re f", "/T gs 1 0 0 0 k 12 84 168 18 re f",
                    "/B gs 0 1 0 0 k 12 48 168 30 re f", "/A gs /W cs 0.8 scn 12 12 132 30 re f", "/N gs 0.4 g 150 12 30 30 re f" + BAR]),
         group("/S sh", f"/Shading << /S {shade} >>", "/I true", "/DeviceGray"),
         group("0.4 g 36 36 60 60 re f", "", "/I true", "/DeviceGray"),
         group("/H gs 0 0 1 rg 24 0 48 96 re f /Q gs 72 0 48 96 re f", "/ExtGState << /H << /ca 0.8 >> /Q << /ca 0.2 >> >>", "/I true", "/DeviceRGB"))


def alpha():
    save("hand-alpha", f"/ColorSpace << /W {WHITE} >> /ExtGState << /A << /ca 0.6 /CA 0.6 >> /B << /ca 0.8 /CA 1 >> /S << /ca 1 >> >>",
         "\n".join(["1 0 0 0 k 12 12 96 96 re f", "/A gs 0 0 0 1 k 60 60 120 60 re f 0 0 1 0 K 24 w 24 96 m 168 96 l S",
                    "/W cs 1 scn 48 24 60 120 re f", "/S gs" + BAR + " 0 0 1 0 k 12 132 36 48 re f", "/B gs 0 0.4 0 0.2 k 120 126 48 48 re f 0 1 0 0 K 120 24 m 168 24 l S", "0 0 0 0 k 24 24 18 48 re f"]))


def blends():
    modes = ["Normal", "Multiply", "Screen", "Darken", "Lighten", "Overlay"]
    gs = " ".join(f"/{m} << /BM /{m} >>" for m in modes)
    marks = ["0.6 0.2 0 0.2 k 7.2 60 177.6 30 re f", "0 0 0.8 0.4 k 7.2 102 177.6 30 re f"]
    marks += [f"/{m} gs 0.4 0.8 0.2 0.2 k {12 + 30 * i} 36 18 120 re f" for i, m in enumerate(modes)]
    save("hand-blends", f"/ExtGState << {gs} >>", "\n".join(marks), keys="/Group << /Type /Group /S /Transparency /CS /DeviceCMYK /I true >>")


def blend_white():
    save("hand-blend-white", f"/ColorSpace << /W {WHITE} >> /ExtGState << /M << /BM /Multiply >> /S << /BM /Screen >> >>",
         "\n".join(["/W cs 0.6 scn 12 48 168 48 re f 1 0 0 0 k 12 108 168 24 re f", "/M gs /W cs 0.8 scn 24 24 36 144 re f", "0 0 0 0.6 k 72 24 36 144 re f", "/S gs /W cs 0.4 scn 120 24 48 144 re f"]))


def blend_rgb():
    """Blending in RGB: 32000-1 11.4.7 takes the page group's space, and RGB becomes CMYK afterwards."""
    save("hand-blend-rgb", "/ExtGState << /M << /BM /Multiply >> /A << /ca 0.6 /BM /Normal >> >>",
         "\n".join(["0.2 0.4 0.8 rg 12 12 96 96 re f", "/A gs 0.8 0.4 0.2 rg 60 60 120 60 re f", "/M gs 0.8 0.8 0.2 rg 36 24 48 150 re f 1 1 0 rg 120 132 48 48 re f 0 0 0 rg 132 12 48 36 re f"]),
         keys="/Group << /Type /Group /S /Transparency /CS /DeviceRGB /I true >>")


def overprint_process():
    gs = "/P0 << /OP true /op true /OPM 0 >> /P1 << /OP true /op true /OPM 1 >> /K << /OP false /op false >> /S << /OP true /op false >>"
    save("hand-overprint-process", f"/ExtGState << {gs} >>", "\n".join([
        "0.8 0.4 0 0 k 7.2 96 177.6 72 re f 0.4 0 0.6 0.4 k 7.2 24 177.6 60 re f",
        "/P0 gs 0 0 1 0 k 12 12 24 168 re f", "/P1 gs 0 0 1 0 k 42 12 24 168 re f", "0 0 0 1 k 72 12 24 168 re f",
        "/K gs 0 0 0 1 k 102 12 18 168 re f", "/P1 gs 0.6 g 126 12 18 168 re f", "/S gs 0 1 0 0 K 0 1 0 0 k /P1 gs 12 w 156 12 m 156 180 l S",
        "/S gs 0 0 0.6 0 k 168 12 12 168 re f"]))


def overprint_spots():
    gs = "/O << /OP true /op true >> /P1 << /OP true /op true /OPM 1 >> /K << /OP false /op false >>"
    save("hand-overprint-spots", f"/ColorSpace << /W {WHITE} /A {AMBER} /N [/DeviceN [/Cyan /White] /DeviceCMYK 5 0 R] >> /ExtGState << {gs} >>", "\n".join([
        "0.8 0.4 0 0.2 k 7.2 108 177.6 60 re f /A cs 0.8 scn 7.2 24 177.6 72 re f",
        "/O gs /W cs 1 scn 12 12 30 168 re f", "/K gs /W cs 0.6 scn 48 12 24 168 re f",
        "/P1 gs 0 0 0 0.6 k 78 12 24 168 re f", "/O gs 0 0 0 0.6 k 108 12 18 168 re f", "/O gs /N cs 0 0.6 scn 132 12 24 168 re f",
        "/W CS 0.8 SCN 12 w 168 12 m 168 180 l S"]),
        stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ pop 0 0 0 }"))


def layers():
    """Layers on and off; the same with the first of them marked as white (ISO 19593-1), which lays down white alone."""
    layers_named("hand-layers", "")
    layers_named("hand-layers-white", "/GTS_Metadata << /GTS_ProcStepsGroup /White >>")


def layers_named(name, mark):
    catalog = "/OCProperties << /OCGs [5 0 R 6 0 R] /D << /ON [5 0 R] /OFF [6 0 R] /Order [5 0 R 6 0 R] >> >>"
    save(name, f"/ColorSpace << /W {WHITE} >> /Properties << /On 5 0 R /Off 6 0 R /Any << /Type /OCMD /OCGs [5 0 R 6 0 R] >> /Both << /Type /OCMD /OCGs [5 0 R 6 0 R] /P /AllOn >> >> /XObject << /F 7 0 R /G 8 0 R >>",
         "\n".join(["1 0 0 0 k 7.2 7.2 177.6 177.6 re f", "/OC /On BDC /W cs 1 scn 12 108 48 72 re f EMC", "/OC /Off BDC /W cs 0.6 scn 0 0 0 1 K 66 108 48 72 re f EMC",
                    "/OC /Any BDC 120 108 48 72 re f EMC", "/OC /Both BDC 0 0 0 1 k 120 144 48 36 re f EMC 12 60 36 36 re f", "/G Do"]),
         f"<< /Type /OCG /Name (White under lanterns) {mark} >>", "<< /Type /OCG /Name (Notes) >>",
         form("0 0 0 0.8 k 60 12 48 72 re f", keys="/OC 6 0 R"), form("0 0.8 0 0 k 120 12 48 72 re f", keys="/OC 5 0 R"), catalog=catalog)


def told_otherwise():
    """What Ghostscript draws otherwise than ISO 32000-1 says; the test has the values of the standard."""
    catalog = "/OCProperties << /OCGs [5 0 R 6 0 R] /D << /ON [5 0 R] /OFF [6 0 R] >> >>"
    save("hand-layer-form-off", "/XObject << /F 7 0 R /G 8 0 R >>", "1 0 0 0 k 7.2 7.2 177.6 177.6 re f /F Do /G Do",
         "<< /Type /OCG /Name (Lanterns) >>", "<< /Type /OCG /Name (Notes) >>",
         form("0 0 0 0.8 k 24 24 48 144 re f", keys="/OC 6 0 R"), form("0 0.8 0 0 k 120 24 48 144 re f", keys="/OC 5 0 R"), catalog=catalog)
    save("hand-initial-colour", f"/ColorSpace << /W {WHITE} >>", "/W cs 0.4 scn 24 24 60 144 re f /W cs 96 24 60 144 re f")
    save("hand-fill-stroke-alpha", "/ExtGState << /B << /ca 0.4 /CA 1 >> >>", "1 0 0 0 k 12 12 84 168 re f /B gs 0 0 1 0 k 0 1 0 0 K 24 w 48 48 96 96 re B")
    save("hand-group-knockout", "/XObject << /A 5 0 R >>", "0 0 1 0 k 12 12 84 168 re f /A Do",
         group("/E gs 1 0 0 0 k 24 24 96 96 re f 0 1 0 0 k 72 72 96 96 re f", "/ExtGState << /E << /ca 0.6 >> >>", "/I false /K true"),
         keys="/Group << /Type /Group /S /Transparency /CS /DeviceCMYK /I true >>")


    keys = "/Type /Pattern /PatternType 1 /PaintType 2 /TilingType 1 /BBox [0 0 24 24] /XStep 24 /YStep 24"
    save("hand-tilings-stroke-alpha", "/ColorSpace << /U [/Pattern /DeviceCMYK] >> /Pattern << /U 5 0 R >> /ExtGState << /A << /ca 0.6 /CA 0.6 >> /B << /CA 0.2 >> >>",
         "/U CS 1 1 0 0 /U SCN 24 w /A gs 36 24 m 36 168 l S /B gs 84 24 m 84 168 l S 0 0 1 0 k 120 24 48 144 re f", stream(f"{keys} /Resources << >>", "0 0 12 24 re f"))


def page_shapes():
    art = "\n".join(["0 0 0 1 k", lantern(36, 60, 57.6), "f", "/W cs 0.8 scn 24 24 96 24 re f 1 0 0 0 k 132 24 24 144 re f", "0 1 0 0 k 156 168 24 12 re f"])
    res = f"/ColorSpace << /W {WHITE} >>"
    save("hand-rotate90", res, art, keys="/Rotate 90", box="0 0 192 240")
    save("hand-rotate180-inherited", res, art, pages="/Rotate -180")
    save("hand-cropbox", res, art, keys="/CropBox [24 12 168 180]", box="-24 -12 216 228")
    save("hand-userunit", f"{res}", "q 0.5 0 0 0.5 0 0 cm\n" + art + "\nQ", keys="/UserUnit 2", box="0 0 96 96")


def annotations():
    save("hand-annotations", "", "0.6 0 0 0 k 12 12 168 168 re f",
         "<< /Type /Annot /Subtype /Stamp /Rect [24 96 96 168] /F 4 /AP << /N 6 0 R >> >>",
         form(f"/W cs 0.8 scn 0 0 36 36 re f 0 0 0 1 k 6 6 12 24 re f", f"/ColorSpace << /W {WHITE} >>", box="0 0 36 36"),
         "<< /Type /Annot /Subtype /Square /Rect [108 96 168 168] /F 6 /AP << /N 6 0 R >> >>",
         "<< /Type /Annot /Subtype /Stamp /Rect [24 24 96 84] /F 4 /AS /Lit /AP << /N << /Lit 9 0 R /Dark 6 0 R >> >> >>",
         form("0 0.8 0.8 0 k 0 0 60 60 re f", "", "/Matrix [0 1 -1 0 0 0]", "0 0 60 72"),
         keys="/Annots [5 0 R 7 0 R 8 0 R]")


def icc_spaces():
    """Colour-managed spaces are taken as the device's by their number of components; the profiles here are only headers' worth."""
    save("hand-default-spaces", f"/ColorSpace << /DefaultCMYK /DeviceCMYK /C [/CalGray << /WhitePoint [0.9505 1 1.089] >>] /W {WHITE} >>",
         "\n".join(["0 0 0 1 k 12 108 72 72 re f", "/W cs 0.4 scn 108 108 72 72 re f", "0.2 0.2 0.8 0 k 12 12 72 72 re f"]))


def clips():
    save("hand-clips", f"/ColorSpace << /W {WHITE} >> /Shading << /A << /ShadingType 2 /ColorSpace /DeviceGray /Coords [0 12 0 180] /Function << /FunctionType 2 /Domain [0 1] /C0 [0] /C1 [1] /N 1 >> >> >>",
         "\n".join(["q", circle(60, 132, 42), "W n /W cs 1 scn 12 84 48 96 re f 0 0 0 1 k 60 84 48 96 re f Q", "q 120 84 60 96 re 132 96 36 72 re W* n 0 1 1 0 k 0 0 192 192 re f Q",
                    "q 12 12 72 60 re W n 24 24 100 36 re W n /A sh Q", "q 7 Tr 96 12 84 60 re W n 0.6 0.6 0 0 k 96 12 200 200 re f* Q"]))


def bad():
    rect = "/W cs 1 scn 12 12 96 96 re f 0 0 0 1 k 96 96 84 84 re f"
    res = f"/ColorSpace << /W {WHITE} >>"
    # A spot of unknown name whose tint transform is broken.
    save("bad/spot-no-transform", "/ColorSpace << /W [/Separation /Nettle /DeviceCMYK] >>", rect)
    save("bad/spot-damaged-transform", "/ColorSpace << /W [/Separation /Nettle /DeviceCMYK 5 0 R] >>", rect,
         stream("/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1 0 1]", "{ dup frob { } "))
    save("bad/spot-looping-alternate", "/ColorSpace << /W 5 0 R >>", rect, f"[/Separation /Nettle 5 0 R {tint(0, 0, 0, 1)}]")
    save("bad/function-of-itself", "/ColorSpace << /W [/Separation /Nettle /DeviceCMYK 5 0 R] >>", rect,
         "<< /FunctionType 3 /Domain [0 1] /Bounds [0.5] /Encode [0 1 0 1] /Functions [5 0 R 5 0 R] >>")
    save("bad/icc-damaged", "/ColorSpace << /W [/ICCBased 5 0 R] >>", "/W cs 0 0 0 1 scn 12 12 96 96 re f", flate("/N 4 /Alternate /DeviceCMYK", b"not a profile"))
    save("bad/icc-wrong-count", "/ColorSpace << /W [/ICCBased 5 0 R] >>", "/W cs 0 0 0 1 scn 12 12 96 96 re f", flate("/N 7", b"\0" * 128))
    save("bad/image-wrong-components", "/XObject << /A 5 0 R >>", "q 72 0 0 72 12 12 cm /A Do Q",
         stream("/Type /XObject /Subtype /Image /Width 150 /Height 150 /ColorSpace /DeviceCMYK /BitsPerComponent 8 /Filter /DCTDecode", jpeg("RGB", 16, lambda x, y: (x * 8, 0, y * 8))))
    save("bad/image-short", "/XObject << /A 5 0 R >>", "q 72 0 0 72 12 12 cm /A Do Q", image(60, 60, "/DeviceCMYK", b"\x80" * 400))
    save("bad/image-huge", "/XObject << /A 5 0 R >>", "q 72 0 0 72 12 12 cm /A Do Q", image(1000000, 1000000, "/DeviceCMYK", b"\x80" * 400))
    save("bad/softmask-of-itself", "/ExtGState << /S 5 0 R >>", "/S gs 0 0 0 1 k 12 12 96 96 re f",
         "<< /Type /ExtGState /SMask << /Type /Mask /S /Luminosity /G 6 0 R >> >>", group("/S gs 1 g 0 0 96 96 re f", "/ExtGState << /S 5 0 R >>", "/I true", "/DeviceGray"))
    save("bad/image-softmask-of-itself", "/XObject << /A 5 0 R >>", "q 72 0 0 72 12 12 cm /A Do Q", image(2, 2, "/DeviceGray", b"\0\x40\x80\xff", "/SMask 5 0 R"))
    save("bad/form-of-itself", f"{res} /XObject << /F 5 0 R >>", rect + " /F Do", form("0 0 1 0 k 24 120 36 36 re f /F Do", "/XObject << /F 5 0 R >>"))
    chain = [form(" ".join(["/F Do"] * 10), f"/XObject << /F {6 + i} 0 R >>") for i in range(12)]
    save("bad/form-bomb", "/XObject << /F 5 0 R >>", "/F Do", *chain, form("0 0 0 1 k 0 0 12 12 re f"))
    save("bad/pattern-of-itself", "/Pattern << /P 5 0 R >>", "/Pattern cs /P scn 12 12 96 96 re f",
         stream("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 24 24] /XStep 24 /YStep 24 /Resources << /Pattern << /P 5 0 R >> >>",
                "0 0 0 1 k 0 0 12 12 re f /Pattern cs /P scn 12 12 12 12 re f"))
    save("bad/type3-of-itself", "/Font << /F 5 0 R >>", "BT /F 24 Tf 0 0 0 1 k 12 12 Td (a) Tj ET",
         "<< /Type /Font /Subtype /Type3 /FontBBox [0 0 1 1] /FontMatrix [1 0 0 1 0 0] /FirstChar 97 /LastChar 97 /Widths [1] /Encoding << /Differences [97 /a] >> /CharProcs << /a 6 0 R >> /Resources << /Font << /F 5 0 R >> >> >>",
         stream("", "1 0 d0 0 0 1 1 re f BT /F 1 Tf (a) Tj ET"))
    save("bad/operators-short", res, "1 k 0 0 0 1 k 12 12 m 96 96 re f /W cs scn 24 24 48 48 re f Q Q Q 0.5 0.5 rg 96 96 48 48 re f /Nope gs /Nope Do /Nope sh ( unclosed")
    save("bad/deep-nesting", res, "q " * 100000 + rect)
    save("bad/shading-no-function", "/Shading << /A << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [0 0 1 1] >> >>", "/A sh 0 0 0 1 k 12 12 96 96 re f")
    save("bad/indexed-short-table", "/XObject << /A 5 0 R >>", "q 72 0 0 72 12 12 cm /A Do Q", image(4, 4, "[/Indexed /DeviceCMYK 255 <00FF00FF>]", bytes(range(16))))
    many = " ".join(f"/C{i}" for i in range(64))
    save("bad/devicen-64", f"/ColorSpace << /N [/DeviceN [{many}] /DeviceCMYK 5 0 R] >>", "/N cs " + "0.5 " * 64 + "scn 12 12 96 96 re f",
         stream(f"/FunctionType 4 /Domain [{'0 1 ' * 64}] /Range [0 1 0 1 0 1 0 1]", "{ " + "pop " * 60 + "}"))


if __name__ == "__main__":
    for make in (process, white_tints, spot_unknown, functions, devicen, all_none, images_indexed, images_dct, images_flate, image_masks, image_softmasks,
                 axial, radial, function_shading, meshes, tilings, tilings_alpha, forms, type3, groups, group_knockout, group_white, softmasks, alpha, blends, blend_white, blend_rgb,
                 overprint_process, overprint_spots, layers, told_otherwise, page_shapes, annotations, icc_spaces, clips, bad):
        make()
