package artfile_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/cmd/internal/artfile"
	"peelcheck/cmd/internal/outfile"
	"peelcheck/raster"
)

func picture(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, image.NewNRGBA(image.Rect(0, 0, 30, 20))); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func ownPicture(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := outfile.EncodePNG(&out, image.NewNRGBA(image.Rect(0, 0, 30, 20))); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func folder(t *testing.T, files map[string][]byte) string {
	t.Helper()
	root := t.TempDir()
	for name, data := range files {
		path := filepath.Join(root, filepath.FromSlash(name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o777), os.WriteFile(path, data, 0o666)); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func TestGather(t *testing.T) {
	files := map[string][]byte{
		"b.png": picture(t), "a/z.unknown": picture(t), "a/own.proof.png": ownPicture(t), "a/own.report.json": []byte("{}"),
		".hidden/c.png": picture(t), ".c.png": picture(t), "notes.txt": []byte("call"), "book.xlsx": []byte("PK\x03\x04rest"),
		"broken.jpg": []byte("no picture"), "layers.psd": []byte("8BPS\x00\x01"), "empty.png": nil, "empty": nil,
	}
	tests := []struct {
		name  string
		names []string
		want  []string // a ! before what has an error
	}{
		{"folder", []string{"."}, []string{"a/z.unknown", "b.png", "!broken.jpg", "!empty.png", "!layers.psd"}},
		{"sub folder first", []string{"a", "."}, []string{"a/z.unknown", "b.png", "!broken.jpg", "!empty.png", "!layers.psd"}},
		{"files as named", []string{"b.png", "a/z.unknown"}, []string{"b.png", "a/z.unknown"}},
		{"twice", []string{"b.png", "./b.png"}, []string{"b.png"}},
		{"named although hidden", []string{".c.png"}, []string{".c.png"}},
		{"named but no artwork", []string{"notes.txt", "empty", "book.xlsx", "a/own.proof.png"}, []string{"!notes.txt", "!empty", "!book.xlsx", "!a/own.proof.png"}},
		{"missing", []string{"gone.png", "b.png"}, []string{"!gone.png", "b.png"}},
		{"folder without artwork", []string{".hidden/none"}, []string{"!.hidden/none"}},
	}
	t.Chdir(folder(t, files))
	if err := os.Mkdir(".hidden/none", 0o777); err != nil {
		t.Fatal(err)
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			list, _, _ := artfile.Gather(tt.names, nil)
			var got []string
			for _, s := range list {
				mark := ""
				if s.Err != nil {
					mark = "!"
				}
				got = append(got, mark+filepath.ToSlash(s.Path))
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestOpen(t *testing.T) {
	data := picture(t)
	t.Chdir(folder(t, map[string][]byte{"a.png": data}))
	f, err := artfile.Open("a.png", artfile.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if sum := sha256.Sum256(data); f.SHA256 != hex.EncodeToString(sum[:]) {
		t.Errorf("SHA256 is %s, want %x", f.SHA256, sum)
	}
	if px, ok := f.Pixels(1, 0); px != 600 || !ok {
		t.Errorf("Pixels gives %d, %v, want 600, true", px, ok)
	}
	if got, err := f.RenderPPI(1, 300, 50, 0); got != 300 || err != nil {
		t.Errorf("a picture is to be rendered at %v, %v, want the 300 asked for", got, err)
	}
}

// TestOpenPDF takes the page's size from ISO 32000-1, 8.3.2.3: 144 x 72 points are 2 x 1 inches.
func TestOpenPDF(t *testing.T) {
	pdf := "%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Count 1/Kids[3 0 R]>>endobj\n" +
		"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 144 72]/Resources<<>>>>endobj\ntrailer<</Size 4/Root 1 0 R>>\n%%EOF\n"
	t.Chdir(folder(t, map[string][]byte{"a.ai": []byte(pdf)}))
	cache, err := os.UserCacheDir() // compiling the renderer anew takes seconds
	if err != nil {
		t.Fatal(err)
	}
	f, err := artfile.Open("a.ai", artfile.Options{CacheDir: filepath.Join(cache, "peelcheck")})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tests := []struct{ ppi, widthMM, heightMM, wantPPI float64 }{
		{0, 0, 0, 600},
		{300, 0, 0, 300},
		{300, 25.4, 0, 150},
		{300, 0, 76.2, 900},
		{0, 101.6, 0, 1200},
		{9600, 1000, 0, 9600 * 1000 / 50.8},
	}
	for _, tt := range tests {
		if got, err := f.RenderPPI(1, tt.ppi, tt.widthMM, tt.heightMM); err != nil || got < tt.wantPPI-0.01 || got > tt.wantPPI+0.01 {
			t.Errorf("RenderPPI(1, %v, %v, %v) = %v, %v, want %v", tt.ppi, tt.widthMM, tt.heightMM, got, err, tt.wantPPI)
		}
	}
	for _, widthMM := range []float64{1e-3, 1e8} {
		var fault *raster.Fault
		if _, err := f.RenderPPI(1, 300, widthMM, 0); !errors.As(err, &fault) {
			t.Errorf("printed %v mm wide: error %v, want a fault", widthMM, err)
		}
	}
	for ppi, want := range map[float64]int64{100: 200 * 100, 0: 1200 * 600} {
		if px, ok := f.Pixels(1, ppi); px != want || !ok {
			t.Errorf("Pixels(1, %v) gives %d, %v, want %d, true", ppi, px, ok, want)
		}
	}
}

func TestOpenFaults(t *testing.T) {
	big := append(picture(t), make([]byte, 70<<20)...)
	t.Chdir(folder(t, map[string][]byte{"empty.png": nil, "text.png": []byte("words"), "own.png": ownPicture(t), "big.png": big, "a.png": picture(t)}))
	tests := []struct {
		name string
		opt  artfile.Options
		want string
	}{
		{"empty.png", artfile.Options{}, "the file is empty"},
		{"text.png", artfile.Options{}, "the name ends in .png, but there is neither a picture nor a PDF inside"},
		{"own.png", artfile.Options{}, "drawn by peelcheck itself"},
		{"big.png", artfile.Options{MaxPixels: 1000}, "at most 67116864 are read"},
		{"a.png", artfile.Options{MaxPixels: 599}, "600 pixels"},
		{".", artfile.Options{}, "not an ordinary file"},
	}
	for _, tt := range tests {
		_, err := artfile.Open(tt.name, tt.opt)
		var fault *raster.Fault
		if !errors.As(err, &fault) || !strings.Contains(fault.Reason, tt.want) || fault.Remedy == "" {
			t.Errorf("%s: got %v, want a fault with %q and a remedy", tt.name, err, tt.want)
		}
	}
	if _, err := artfile.Open("gone.png", artfile.Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("gone.png: got %v, want os.ErrNotExist", err)
	}
}
