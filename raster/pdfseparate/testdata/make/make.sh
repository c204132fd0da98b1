#!/usr/bin/env bash
# Renews the corpus. Needs ghostscript, librsvg2-bin, poppler-utils, qpdf, mupdf-tools, python3-pil, python3-reportlab, python3-cairo,
# python3-matplotlib, node and its packages pdfkit, pdf-lib and jspdf; the README beside the PDFs says what each makes.
set -euo pipefail
cd "$(dirname "$0")"
python3 hand.py
python3 makers.py
node makers.mjs
gs -q -dNOPAUSE -dBATCH -dSAFER -sDEVICE=pdfwrite -sColorConversionStrategy=LeaveColorUnchanged -dAutoRotatePages=/None -sOutputFile=../gs-art.pdf -c "<< /NeverEmbed [] >> setdistillerparams" -f art.ps
rsvg-convert -f pdf -o ../rsvg-lanterns.pdf lanterns.svg
rsvg-convert -f pdf -o ../rsvg-mist.pdf mist.svg
pdftocairo -pdf ../hand-tilings.pdf ../pdftocairo-tilings.pdf
qpdf --object-streams=generate --recompress-flate --compression-level=9 --deterministic-id ../hand-overprint-spots.pdf ../qpdf-object-streams.pdf
qpdf --linearize --deterministic-id ../hand-shading-axial.pdf ../qpdf-linearised.pdf
qpdf --encrypt "" lantern 256 -- --static-id --static-aes-iv ../hand-white-tints.pdf ../qpdf-encrypted.pdf
mutool convert -F pdf -o ../mutool-lanterns.pdf lanterns.svg
mutool clean -gggg -z ../hand-forms.pdf ../mutool-forms.pdf
