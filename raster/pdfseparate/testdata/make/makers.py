"""Writes the cairo-, reportlab- and matplotlib- PDFs. Run from this folder: python3 makers.py"""
import cairo
import matplotlib

matplotlib.use("pdf")
import matplotlib.pyplot as plt
from reportlab.lib.colors import CMYKColor, CMYKColorSep
from reportlab.pdfgen import canvas


def cairo_mesh():
    surface = cairo.PDFSurface("../cairo-mesh.pdf", 192, 192)
    ctx = cairo.Context(surface)
    mesh = cairo.MeshPattern()
    mesh.begin_patch()
    mesh.move_to(24, 96)
    mesh.curve_to(48, 84, 72, 108, 96, 96)
    mesh.line_to(96, 168)
    mesh.line_to(24, 168)
    mesh.line_to(24, 96)
    for corner, colour in enumerate([(0.8, 0.2, 0), (0, 0.6, 0.4), (0.2, 0.2, 0.2), (1, 1, 0.2)]):
        mesh.set_corner_color_rgb(corner, *colour)
    mesh.end_patch()
    ctx.set_source(mesh)
    ctx.paint()
    ctx.set_source_rgb(1, 1, 1)  # the edge of the mesh goes: renderers differ in how far it reaches
    ctx.set_fill_rule(cairo.FILL_RULE_EVEN_ODD)
    ctx.rectangle(12, 72, 96, 108)
    ctx.rectangle(36, 108, 48, 48)
    ctx.fill()
    for x, bar in enumerate([(0, 1, 1), (1, 1, 0)]):
        ctx.set_source_rgb(*bar)
        ctx.rectangle(24 + 78 * x, 168, 78, 12)
        ctx.fill()
    ctx.set_source_rgb(0, 0, 0)
    ctx.rectangle(108, 24, 72, 72)
    ctx.fill()
    ctx.set_source_rgb(0.2, 0.4, 0.8)
    ctx.set_line_width(9.6)
    ctx.move_to(24, 36)
    ctx.curve_to(48, 12, 72, 84, 96, 36)
    ctx.stroke()
    ctx.select_font_face("sans-serif", cairo.FONT_SLANT_NORMAL, cairo.FONT_WEIGHT_BOLD)
    ctx.set_font_size(48)
    ctx.move_to(108, 150)
    ctx.show_text("QL")
    surface.finish()


def reportlab_spots():
    page = canvas.Canvas("../reportlab-spots.pdf", pagesize=(192, 192), invariant=1, pageCompression=1)
    white = CMYKColorSep(0.2, 0, 0, 0, spotName="White", density=1)
    amber = CMYKColorSep(0, 0.4, 0.8, 0, spotName="Amber", density=0.6)
    page.setFillColor(CMYKColor(0.8, 0.4, 0, 0.2))
    page.rect(12, 96, 168, 48, stroke=0, fill=1)
    page.setFillColor(white)
    page.rect(24, 72, 48, 108, stroke=0, fill=1)
    page.setFillColor(amber)
    page.circle(120, 120, 36, stroke=0, fill=1)
    page.saveState()
    page.setFillOverprint(True)
    page.setFillColor(white)
    page.rect(144, 84, 36, 84, stroke=0, fill=1)
    page.restoreState()
    page.setStrokeColor(CMYKColor(0, 0, 0, 1))
    page.setLineWidth(7.2)
    page.line(12, 60, 180, 60)
    page.setFillColorRGB(0.2, 0.6, 0.8)
    page.rect(12, 12, 60, 36, stroke=0, fill=1)
    page.setFillGray(0.4)
    page.rect(84, 12, 36, 36, stroke=0, fill=1)
    page.setFillColor(CMYKColor(0, 0, 0, 1))
    page.rect(132, 12, 48, 36, stroke=0, fill=1)
    page.showPage()
    page.save()


def reportlab_form():
    page = canvas.Canvas("../reportlab-form.pdf", pagesize=(192, 192), invariant=1)
    page.beginForm("lantern", 0, 0, 72, 84)
    page.setFillColor(CMYKColor(0, 0, 0, 0.8))
    page.rect(12, 0, 48, 84, stroke=0, fill=1)
    page.setFillColor(CMYKColor(0, 0.4, 1, 0))
    page.rect(0, 24, 72, 36, stroke=0, fill=1)
    page.endForm()
    for x, y, s in ((12, 96, 1), (96, 96, 1), (12, 12, 0.5)):
        page.saveState()
        page.setFillAlpha(1 if y > 90 else 0.6)
        page.translate(x, y)
        page.scale(s, s)
        page.doForm("lantern")
        page.restoreState()
    page.saveState()
    clip = page.beginPath()
    clip.rect(96, 12, 84, 72)
    page.clipPath(clip, stroke=0)
    page.radialGradient(138, 48, 36, (CMYKColor(0.4, 0, 0, 0.8), CMYKColor(0.6, 0, 0.2, 0.4)))
    page.restoreState()
    page.save()


def matplotlib_chart():
    figure = plt.figure(figsize=(192 / 72, 192 / 72))
    axes = figure.add_axes([0, 0, 1, 1])
    axes.set_xlim(0, 192)
    axes.set_ylim(0, 192)
    axes.axis("off")
    axes.add_patch(plt.Rectangle((12, 12), 60, 168, color=(0.2, 0.4, 0.6), linewidth=0))
    axes.add_patch(plt.Rectangle((96, 12), 84, 84, facecolor=(0, 0, 0), linewidth=0))
    axes.add_patch(plt.Rectangle((96, 108), 84, 72, facecolor=(1, 0.8, 0.2), edgecolor=(0, 0.4, 0.2), linewidth=6))
    axes.imshow([[0, 0.25, 0.5], [0.75, 1, 0.5]], extent=(12, 72, 60, 120), cmap="gray", interpolation="nearest", aspect="auto", zorder=5)
    axes.set_xlim(0, 192)
    axes.set_ylim(0, 192)
    figure.savefig("../matplotlib-chart.pdf", metadata={"CreationDate": None})


for make in (cairo_mesh, reportlab_spots, reportlab_form, matplotlib_chart):
    make()
