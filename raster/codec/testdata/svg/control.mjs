// Draws NAME.svg of one folder as NAME.svg.png in another, 576 pixels wide.
import fs from 'node:fs'
import { Resvg } from '@resvg/resvg-js'

const [from, to] = process.argv.slice(2)
for (const name of fs.readdirSync(from)) {
  const drawn = new Resvg(fs.readFileSync(`${from}/${name}`), { fitTo: { mode: 'width', value: 576 }, font: { loadSystemFonts: true } })
  fs.writeFileSync(`${to}/${name}.png`, drawn.render().asPng())
}
