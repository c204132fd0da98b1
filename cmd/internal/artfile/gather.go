package artfile

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/outfile"
	"peelcheck/raster"
	"peelcheck/raster/codec"
)

// Source is one file to be judged.
type Source struct {
	Path string // as named, or found in a named folder
	Root string // the folder named in which it was found, empty if it was named itself
	Err  error  // why it will not be opened, nil if it will
	Copy string // where its content lies, if not at Path: as it is staged in git
}

// At is the path that is read.
func (s *Source) At() string { return cmp.Or(s.Copy, s.Path) }

// pictureExtensions are those whose files are expected to be judged: passing one over in silence would look like a pass.
var pictureExtensions = []string{".ai", ".avif", ".bmp", ".eps", ".gif", ".heic", ".heif", ".j2k", ".jp2", ".jpe", ".jpeg", ".jpg", ".jpx",
	".jxl", ".jxr", ".odg", ".ora", ".pdf", ".png", ".ps", ".psb", ".psd", ".svg", ".svgz", ".tif", ".tiff", ".webp", ".xcf"}

// Filter says whether a file or folder found in the folder root is meant.
type Filter func(root, path string, folder bool) bool

// Gather lists the files named and, sorted by path, the artwork in the folders named and in their subfolders. Hidden
// files, other kinds of file, pictures this program drew and what meant, unless it is nil, refuses are passed over in folders. folder
// reports whether one of the names was a folder, leftOut how many files that are artwork by name meant refused. A file named twice is
// listed once.
func Gather(names []string, meant Filter) (list []Source, folder bool, leftOut int) {
	cwd, _ := os.Getwd() // absolute asks again without it
	g := gatherer{cwd: cwd, seen: map[string]bool{}, refused: map[string]bool{}, meant: meant}
	for _, name := range names {
		info, err := os.Stat(name)
		switch {
		case err != nil:
			g.add(Source{Path: name, Err: err})
		case info.IsDir():
			folder = true
			g.folder(name)
		default:
			_, err := Kind(name)
			g.add(Source{Path: name, Err: err})
		}
	}
	for path := range g.refused {
		if !g.seen[path] {
			leftOut++
		}
	}
	return g.list, folder, leftOut
}

type gatherer struct {
	cwd     string // asking for it at every file costs more than all else here
	list    []Source
	seen    map[string]bool // absolute
	refused map[string]bool // absolute
	meant   Filter
}

func (g *gatherer) absolute(path string) string {
	if g.cwd != "" && !filepath.IsAbs(path) && filepath.VolumeName(path) == "" && !strings.HasPrefix(path, string(filepath.Separator)) {
		return filepath.Join(g.cwd, path)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	return abs
}

// refuse notes the artwork at path, which may be a folder, and reports whether there is any.
func (g *gatherer) refuse(path string) (found bool) {
	_ = filepath.WalkDir(path, func(path string, d fs.DirEntry, err error) error {
		if d == nil {
			return nil // it is gone
		}
		hidden := strings.HasPrefix(d.Name(), ".")
		switch {
		case d.IsDir() && (hidden || err != nil):
			return fs.SkipDir
		case !hidden && !d.IsDir() && pictureName(path):
			if _, ok := inFolder(path); ok {
				g.refused[g.absolute(path)], found = true, true
			}
		}
		return nil
	})
	return found
}

// pictureName reports whether a file is expected to be judged, by its name.
func pictureName(path string) bool {
	return slices.Contains(pictureExtensions, strings.ToLower(filepath.Ext(path)))
}

func (g *gatherer) add(s Source) {
	abs := g.absolute(s.Path)
	if !g.seen[abs] {
		g.seen[abs] = true
		g.list = append(g.list, s)
	}
}

func (g *gatherer) folder(root string) {
	var found []Source
	refused := false
	// The function given never returns an error of its own, and so neither does WalkDir.
	_ = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		hidden := path != root && strings.HasPrefix(d.Name(), ".")
		switch {
		case hidden && d.IsDir():
			return fs.SkipDir
		case hidden:
		case err == nil && path != root && g.meant != nil && !g.meant(root, path, d.IsDir()):
			refused = g.refuse(path) || refused
			if d.IsDir() {
				return fs.SkipDir
			}
		case err != nil:
			found = append(found, Source{Path: path, Err: err})
			if d != nil && d.IsDir() {
				return fs.SkipDir
			}
		case !d.IsDir():
			if s, ok := inFolder(path); ok {
				found = append(found, s)
			}
		}
		return nil
	})
	switch {
	case len(found) == 0 && refused:
		found = append(found, Source{Path: root, Err: &raster.Fault{Reason: "there is artwork in this folder, but include and exclude leave none of it", Remedy: "check the patterns, or leave the folder out of the call"}})
	case len(found) == 0:
		found = append(found, Source{Path: root, Err: &raster.Fault{Reason: "there is no artwork in this folder", Remedy: "put PNG, JPEG, TIFF, WebP, BMP, GIF or PDF files in it or name another"}})
	}
	slices.SortFunc(found, func(a, b Source) int { return strings.Compare(a.Path, b.Path) })
	for _, s := range found {
		s.Root = root
		g.add(s)
	}
}

// InFolder reports whether a file in a folder would be judged or told of.
func InFolder(path string) bool {
	_, ok := inFolder(path)
	return ok
}

func inFolder(path string) (Source, bool) {
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		return Source{}, false // a link to a folder, a device or a socket
	}
	if err != nil && !pictureName(path) && isLink(path) {
		return Source{}, false // it leads nowhere, and never led to artwork by its name
	}
	_, err = Kind(path)
	switch {
	case errors.Is(err, ErrOwnPicture):
		return Source{}, false
	case errors.Is(err, errNotArtwork) && !pictureName(path):
		return Source{}, false
	}
	return Source{Path: path, Err: err}, true
}

func isLink(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode()&fs.ModeSymlink != 0
}

// readable are the formats by content that Open opens.
var readable = []string{"png", "jpeg", "tiff", "webp", "bmp", "gif", "pdf"}

var errNotArtwork = errors.New("not artwork")

// ErrOwnPicture is in the error for a picture that this program drew.
var ErrOwnPicture = errors.New("drawn by this program")

// headBytes covers the 1024 bytes in which a PDF header may lie, and every other signature.
const headBytes = 4096

// Kind returns the format of a file by its content. A file that holds no artwork, or a picture this program drew, is a
// *raster.Fault.
func Kind(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() {
		return "", &raster.Fault{Reason: "this is not an ordinary file", Remedy: "save the artwork as a file first"}
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	head := make([]byte, headBytes)
	n, err := io.ReadFull(f, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return "", fmt.Errorf("artfile: %w", err)
	}
	return kindOf(head[:n], filepath.Ext(path))
}

func kindOf(head []byte, ext string) (string, error) {
	if len(head) == 0 {
		return "", &raster.Fault{Reason: "the file is empty", Remedy: "copy or export it again", Err: errNotArtwork}
	}
	if outfile.Stamped(head) {
		return "", &raster.Fault{Reason: "this was drawn by peelcheck itself", Remedy: "name the artwork it was drawn for", Err: ErrOwnPicture}
	}
	format := codec.Sniff(head)
	if format == "" && strings.EqualFold(ext, ".svg") && bytes.HasPrefix(head, []byte("<?xml")) {
		format = "svg" // its first words may stand behind a long preamble
		head = []byte("<svg")
	}
	if slices.Contains(readable, format) {
		return format, nil
	}
	switch format {
	case "":
	case "zip", "office":
		fault := *codec.Refusal(head)
		fault.Err = errNotArtwork
		return "", &fault
	default:
		return "", codec.Refusal(head)
	}
	fault := raster.Fault{
		Reason: "the file is neither a picture nor a PDF that can be read here",
		Remedy: "export it as PNG, JPEG, TIFF, WebP, BMP, GIF or PDF",
		Err:    errNotArtwork,
	}
	if ext = strings.ToLower(ext); slices.Contains(pictureExtensions, ext) {
		fault.Reason = fmt.Sprintf("the name ends in %s, but there is neither a picture nor a PDF inside that can be read here", ext)
	}
	return "", &fault
}
