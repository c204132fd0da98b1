// Writes the pdfkit-, pdf-lib- and jspdf- PDFs: npm install pdfkit pdf-lib jspdf, then node makers.mjs from this folder.
import fs from 'node:fs';
import { createRequire } from 'node:module';
const require = createRequire(import.meta.url);
const PDFKit = require('pdfkit');
const { PDFDocument, cmyk, rgb, grayscale, BlendMode } = require('pdf-lib');
const { jsPDF } = require('jspdf');
const when = new Date(Date.UTC(2024, 9, 31));

function pdfkit() {
  const doc = new PDFKit({ size: [192, 192], margin: 0, info: { CreationDate: when } });
  doc.pipe(fs.createWriteStream('../pdfkit-spots.pdf'));
  doc.addSpotColor('Lantern White', 20, 0, 0, 0);
  doc.addSpotColor('Amber', 0, 40, 80, 0);
  doc.rect(12, 12, 168, 60).fill([80, 20, 0, 20]);
  doc.rect(24, 24, 48, 144).fill('Lantern White');
  doc.circle(126, 60, 42).fill('Amber');
  doc.rect(84, 108, 96, 24).fill([0, 0, 0, 100]);
  const shade = doc.linearGradient(84, 0, 180, 0);
  shade.stop(0, [0, 20, 0, 80]).stop(1, [0, 60, 40, 20]);
  doc.rect(84, 144, 96, 36).fill(shade);
  doc.lineWidth(7.2).moveTo(12, 180).lineTo(72, 84).stroke('#336699');
  doc.end();
}

async function pdflib() {
  const doc = await PDFDocument.create();
  doc.setCreationDate(when);
  doc.setModificationDate(when);
  const page = doc.addPage([192, 192]);
  page.drawRectangle({ x: 12, y: 12, width: 168, height: 84, color: cmyk(0.6, 0.2, 0, 0.2) });
  page.drawRectangle({ x: 24, y: 24, width: 48, height: 144, color: cmyk(0, 0, 0, 1), opacity: 0.8 });
  page.drawRectangle({ x: 84, y: 48, width: 48, height: 120, color: cmyk(0, 0.4, 0.8, 0), blendMode: BlendMode.Multiply });
  page.drawSvgPath('M0 0 L36 12 L24 60 L-12 36 Z', { x: 150, y: 174, color: rgb(0.2, 0.6, 0.4) });
  page.drawEllipse({ x: 156, y: 54, xScale: 18, yScale: 30, color: grayscale(0.4), borderColor: cmyk(0, 1, 0, 0), borderWidth: 6 });
  fs.writeFileSync('../pdf-lib-cmyk.pdf', await doc.save());
}

function jspdf() {
  const doc = new jsPDF({ unit: 'pt', format: [192, 192], compress: true });
  doc.setCreationDate(when);
  doc.setFileId('00000000000000000000000000000000');
  doc.setFillColor(0.2, 0.6, 0, 0.2);
  doc.rect(12, 12, 168, 72, 'F');
  doc.setFillColor(0, 0, 0, 1);
  doc.triangle(24, 168, 60, 60, 96, 168, 'F');
  doc.setDrawColor(0, 0.8, 1, 0);
  doc.setLineWidth(9.6);
  doc.rect(115.2, 38.4, 52.8, 52.8, 'S');
  doc.setGState(new doc.GState({ opacity: 0.6 }));
  doc.setFillColor(0, 0.4, 1, 0);
  doc.rect(84, 72, 84, 96, 'F');
  fs.writeFileSync('../jspdf-cmyk.pdf', Buffer.from(doc.output('arraybuffer')));
}

pdfkit();
await pdflib();
jspdf();
