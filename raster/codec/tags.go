package codec

import "encoding/binary"

var (
	le = binary.LittleEndian
	be = binary.BigEndian
)

// Tag numbers of TIFF 6.0; EXIF 2.3 uses the same.
const (
	tagNewSubfileType  = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBitsPerSample   = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagFillOrder       = 266
	tagOrientation     = 274
	tagSamplesPerPixel = 277
	tagXResolution     = 282
	tagYResolution     = 283
	tagPlanar          = 284
	tagResolutionUnit  = 296
	tagSampleFormat    = 339
	tagLayers          = 37724 // a private tag under which programs keep their layers beside the picture; from memory
)

// Values of ResolutionUnit (TIFF 6.0, section 8).
const (
	unitInch       = 2
	unitCentimetre = 3
)

// Field types of TIFF 6.0, section 2, that are read here.
const (
	typeShort    = 3
	typeLong     = 4
	typeRational = 5
)

const entryBytes = 12

// directory is one image file directory of a TIFF file or of an EXIF block. No count in it is trusted: whatever lies
// outside the data is absent.
type directory struct {
	data  []byte
	order binary.ByteOrder
	entry map[uint16][]byte
	next  uint32 // offset of the next directory, 0 for none
}

// parseTIFF reads the first directory. It reports whether there is one.
func parseTIFF(data []byte) (directory, bool) {
	if len(data) < 8 {
		return directory{}, false
	}
	var order binary.ByteOrder
	switch string(data[:4]) {
	case "II*\x00":
		order = le
	case "MM\x00*":
		order = be
	default:
		return directory{}, false
	}
	return parseDirectory(data, order, order.Uint32(data[4:]))
}

func parseDirectory(data []byte, order binary.ByteOrder, offset uint32) (directory, bool) {
	if int64(offset)+2 > int64(len(data)) {
		return directory{}, false
	}
	count := int(order.Uint16(data[offset:]))
	rest := data[offset+2:]
	d := directory{data: data, order: order, entry: map[uint16][]byte{}}
	for i := 0; i < count && len(rest) >= entryBytes; i++ {
		tag := order.Uint16(rest)
		if _, twice := d.entry[tag]; !twice {
			d.entry[tag] = rest[:entryBytes]
		}
		rest = rest[entryBytes:]
	}
	if len(rest) >= 4 {
		d.next = order.Uint32(rest)
	}
	return d, true
}

// uint returns the first value of a field of whole numbers, or the default.
func (d directory) uint(tag uint16, otherwise uint32) uint32 {
	e, ok := d.entry[tag]
	if !ok || d.order.Uint32(e[4:]) == 0 {
		return otherwise
	}
	count := d.order.Uint32(e[4:])
	value := e[8:]
	switch typ := d.order.Uint16(e[2:]); {
	case typ == typeShort && count > 2, typ == typeLong && count > 1:
		offset := int64(d.order.Uint32(value))
		if offset+4 > int64(len(d.data)) {
			return otherwise
		}
		value = d.data[offset:]
		fallthrough
	case typ == typeShort, typ == typeLong:
		if typ == typeShort {
			return uint32(d.order.Uint16(value))
		}
		return d.order.Uint32(value)
	}
	return otherwise
}

// rational returns a field of one fraction, zero where there is none.
func (d directory) rational(tag uint16) float64 {
	e, ok := d.entry[tag]
	if !ok || d.order.Uint16(e[2:]) != typeRational || d.order.Uint32(e[4:]) == 0 {
		return 0
	}
	offset := int64(d.order.Uint32(e[8:]))
	if offset+8 > int64(len(d.data)) {
		return 0
	}
	over, under := d.order.Uint32(d.data[offset:]), d.order.Uint32(d.data[offset+4:])
	if under == 0 {
		return 0
	}
	return float64(over) / float64(under)
}

// density returns the resolution the directory tells, unknown without one.
func (d directory) density(from string) density {
	x, y := d.rational(tagXResolution), d.rational(tagYResolution)
	switch d.uint(tagResolutionUnit, unitInch) {
	case unitInch:
		return newDensity(x, y, 1, from)
	case unitCentimetre:
		return newDensity(x, y, cmPerInch, from)
	}
	return density{}
}

// orientation returns the way round the picture is to be shown, 1 to 8.
func (d directory) orientation() int {
	if o := d.uint(tagOrientation, 1); o >= 1 && o <= 8 {
		return int(o)
	}
	return 1
}

// parseEXIF reads an EXIF block with or without the six bytes that mark it in a JPEG file.
func parseEXIF(block []byte) (directory, bool) {
	if len(block) > 6 && string(block[:6]) == "Exif\x00\x00" {
		block = block[6:]
	}
	return parseTIFF(block)
}
