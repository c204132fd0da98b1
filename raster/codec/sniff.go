package codec

import (
	"bytes"
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
	{"eps", "%!PS"},
	{"eps", "\xc5\xd0\xd3\xc6"},
	{"zip", "PK\x03\x04"},
	{"jp2", "\x00\x00\x00\x0cjP  "},
	{"jxl", "\x00\x00\x00\x0cJXL "},
	{"jxl", "\xff\x0a"},
	{"ico", "\x00\x00\x01\x00"},
}

// headBytes is how much of a file Sniff looks at.
const headBytes = 4096

// Sniff names the format of a file by its first bytes, 4096 of them being enough: "png", "jpeg", "tiff", "webp", "bmp" or
// "gif", which Open reads; "pdf", "svg", "eps", "psd", "zip" and more, which Refusal has words for; and "" for anything else.
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
	case isHEIC(head):
		return "heic"
	case isAVIF(head):
		return "avif"
	case bytes.Contains(head[:min(len(head), pdfHeaderWithin)], []byte("%PDF-")):
		return "pdf"
	case isSVG(head):
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

func isAVIF(head []byte) bool { return isBrand(head, "avif", "avis") }

// isBrand reports whether an ISO base media file (ISO/IEC 14496-12, box "ftyp") has one of the major brands.
func isBrand(head []byte, brands ...string) bool {
	return len(head) >= 12 && string(head[4:8]) == "ftyp" && slices.Contains(brands, string(head[8:12]))
}

// isSVG is not taken in by web pages that hold a drawing.
func isSVG(head []byte) bool {
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	head = bytes.TrimLeft(head, " \t\r\n")
	before, _, found := bytes.Cut(head, []byte("<svg"))
	return found && bytes.HasPrefix(head, []byte("<")) && !bytes.Contains(bytes.ToLower(before), []byte("<html"))
}
