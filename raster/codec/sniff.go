package codec

import (
	"bytes"
	"compress/gzip"
	"io"
	"slices"
)

// pdfHeaderWithin is how far into a file the header of a PDF may lie: common practice of readers since the note on
// clause 7.5.2 in the first edition of the format.
const pdfHeaderWithin = 1024

var signatures = []struct {
	name, magic string
}{
	{"png", "\x89PNG\r\n\x1a\n"},
	{"jpeg", "\xff\xd8\xff"},
	{"tiff", "II*\x00"},
	{"tiff", "MM\x00*"},
	{"bigtiff", "II+\x00"},
	{"bigtiff", "MM\x00+"},
	{"gif", "GIF87a"},
	{"gif", "GIF89a"},
	{"psd", "8BPS"},
	{"xcf", "gimp xcf "},
	{"eps", "%!PS"},
	{"eps", "\xc5\xd0\xd3\xc6"},
	{"jp2", "\x00\x00\x00\x0cjP  "},
	{"jp2", "\xff\x4f\xff\x51"}, // a bare code stream (ISO/IEC 15444-1, Annex A)
	{"jxr", "II\xbc\x01"},       // ISO/IEC 29199-2, Annex A
	{"jxl", "\x00\x00\x00\x0cJXL "},
	{"jxl", "\xff\x0a"},
	{"ico", "\x00\x00\x01\x00"},
	{"layout", "\x06\x06\xed\xf5\xd8\x1d\x46\xe5\xbd\x31\xef\xe7\xfe\x74\xb7\x1d"},
	{"metafile", "\xd7\xcd\xc6\x9a"},
	{"office", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"},
}

// headBytes is how much of a file Sniff looks at.
const headBytes = 4096

// Sniff names the format of a file by its first bytes, 4096 of them being enough: "png", "jpeg", "tiff", "webp", "bmp" or
// "gif", which Open reads; "pdf", "svg", "eps", "psd" and more, which Refusal has words for; "zip" and "office", which seldom hold
// artwork; and "" for anything else.
func Sniff(head []byte) string {
	head = head[:min(len(head), headBytes)]
	for _, s := range signatures {
		if bytes.HasPrefix(head, []byte(s.magic)) {
			return s.name
		}
	}
	switch {
	case isWebP(head):
		return "webp"
	case isBMP(head):
		return "bmp"
	case isAVIF(head):
		return "avif"
	case isHEIC(head):
		return "heic"
	case isDrawing(head):
		return "drawing"
	case isMetafile(head):
		return "metafile"
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return packed(head)
	case bytes.Contains(head[:min(len(head), pdfHeaderWithin)], []byte("%PDF-")):
		return "pdf"
	case isSVG(unzipped(head)):
		return "svg"
	}
	return ""
}

func isWebP(head []byte) bool {
	return len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP"
}

// isBMP also wants a header length that some version of the format uses, because two letters can begin any text.
func isBMP(head []byte) bool {
	if len(head) < 18 || string(head[:2]) != "BM" {
		return false
	}
	n := le.Uint32(head[14:])
	return slices.Contains([]uint32{12, 16, 40, 52, 56, 64, 108, 124}, n)
}

func isHEIC(head []byte) bool {
	return isBrand(head, "heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1")
}

func isAVIF(head []byte) bool {
	if isBrand(head, "avif", "avis") {
		return true
	}
	return isBrand(head, "mif1", "msf1") && bytes.Contains(head[12:min(len(head), max(12, int(be.Uint32(head))))], []byte("avif"))
}

// isBrand reports whether an ISO base media file (ISO/IEC 14496-12, box "ftyp") has one of the major brands.
func isBrand(head []byte, brands ...string) bool {
	return len(head) >= 12 && string(head[4:8]) == "ftyp" && slices.Contains(brands, string(head[8:12]))
}

// isDrawing knows a drawing in RIFF chunks by the form type that begins it; from memory.
func isDrawing(head []byte) bool {
	return len(head) >= 12 && string(head[:4]) == "RIFF" && (string(head[8:11]) == "CDR" || string(head[8:11]) == "cdr")
}

// isMetafile wants the signature of the enhanced kind, which stands behind a size and two rectangles.
func isMetafile(head []byte) bool {
	return len(head) >= 44 && le.Uint32(head) == 1 && string(head[40:44]) == " EMF"
}

// packed names what a ZIP package holds by its first entry, or by the folders that office documents are laid out in (ISO/IEC 29500-2;
// OpenDocument 1.2, part 3; both from memory).
func packed(head []byte) string {
	const nameAt = 30 // behind the local header of the entry
	first := head[min(len(head), nameAt):]
	switch {
	case bytes.HasPrefix(first, []byte("mimetypeimage/openraster")):
		return "ora"
	case bytes.HasPrefix(first, []byte("mimetypeapplication/vnd.oasis.opendocument.graphics")):
		return "drawing"
	case bytes.HasPrefix(first, []byte("mimetypeapplication/vnd.oasis.opendocument.")),
		bytes.HasPrefix(first, []byte("[Content_Types].xml")),
		bytes.HasPrefix(first, []byte("word/")), bytes.HasPrefix(first, []byte("ppt/")), bytes.HasPrefix(first, []byte("xl/")):
		return "office"
	}
	return "zip"
}

// unzipped returns the beginning of what gzip has packed, and head itself where it has not.
func unzipped(head []byte) []byte {
	r, err := gzip.NewReader(bytes.NewReader(head))
	if err != nil {
		return head
	}
	plain, _ := io.ReadAll(io.LimitReader(r, headBytes)) // the end of head ends it with an error
	return plain
}

// isSVG is not taken in by web pages that hold a drawing.
func isSVG(head []byte) bool {
	head = bytes.TrimPrefix(narrow(head), []byte("\xef\xbb\xbf"))
	head = bytes.TrimLeft(head, " \t\r\n")
	before, _, found := bytes.Cut(head, []byte("<svg"))
	return found && bytes.HasPrefix(head, []byte("<")) && !bytes.Contains(bytes.ToLower(before), []byte("<html"))
}

// narrow makes one byte a letter of text in UTF-16 that a byte order mark begins; only letters of ASCII count.
func narrow(head []byte) []byte {
	if !bytes.HasPrefix(head, []byte("\xff\xfe")) && !bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return head
	}
	return bytes.ReplaceAll(head[2:], []byte{0}, nil)
}
