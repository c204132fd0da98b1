package main

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"peelcheck/raster/pdftest"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"peelcheck": main, "pngdecode": pngDecode, "peelheld": peelHeld})
}

func TestScripts(t *testing.T) {
	found, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil || len(found) == 0 {
		t.Fatalf("no scripts found (%v)", err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("UPDATE") != "",
		Setup:               shareCache,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"draw": draw, "exits": exits, "cut": cut, "header": header, "lines": lines, "density": density,
			"freeport": freePort, "fetch": fetch, "empty": empty, "samenames": sameNames, "shards": shards, "timed": timed,
		},
	})
}

// shareCache lets all scripts use one copy of the PDF renderer's compiled code, which takes seconds to make. What was found is kept for
// each script by itself.
func shareCache(env *testscript.Env) error {
	dir, err := os.UserCacheDir()
	if err != nil {
		return err
	}
	for _, name := range []string{"XDG_CACHE_HOME", "LocalAppData"} {
		env.Setenv(name, dir)
	}
	alone, _, _ := strings.Cut(env.Getenv("PATH"), string(os.PathListSeparator))
	env.Setenv("ALONE", alone) // a PATH of nothing but this program
	docs, err := filepath.Abs("../../docs")
	if err != nil {
		return err
	}
	env.Setenv("DOCS", docs)
	env.Setenv(cacheVariable, filepath.Join(env.WorkDir, ".kept"))
	return nil
}

// exits runs a command that must end with the exit code: exits CODE PROGRAM ARG...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM ARG...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if want := args[0]; strconv.Itoa(got) != want {
		ts.Fatalf("exit code %d, want %s", got, want)
	}
}

// lines checks how many lines a file has: lines COUNT FILE. FILE may be stdout or stderr.
func lines(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: lines COUNT FILE")
	}
	if got := strings.Count(ts.ReadFile(args[1]), "\n"); strconv.Itoa(got) != args[0] {
		ts.Fatalf("%s has %d lines, want %s", args[1], got, args[0])
	}
}

var beginsWithTime = regexp.MustCompile(`^[0-2][0-9]:[0-5][0-9]:[0-5][0-9] `)

// timed checks that every line of a file begins with a time of day of the last minutes and goes on as another file has it: timed FILE WANT.
func timed(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: timed FILE WANT")
	}
	var rest strings.Builder
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		when := beginsWithTime.FindString(line)
		at, err := time.ParseInLocation("15:04:05 ", when, time.Local)
		now := time.Now()
		seconds := func(t time.Time) int { return t.Hour()*3600 + t.Minute()*60 + t.Second() }
		if ago := (seconds(now) - seconds(at) + 86400) % 86400; err != nil || ago > 300 {
			ts.Fatalf("%q does not begin with the time of day, which is %s", line, now.Format(time.TimeOnly))
		}
		rest.WriteString(line[len(when):])
	}
	if want := ts.ReadFile(args[1]); rest.String() != want {
		ts.Fatalf("behind the times:\n%s\nwant:\n%s", rest.String(), want)
	}
}

// density checks the pixels per metre that a PNG's pHYs chunk gives: density COUNT FILE.
func density(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: density COUNT FILE")
	}
	_, after, found := strings.Cut(ts.ReadFile(args[1]), "pHYs")
	if !found || len(after) < 9 {
		ts.Fatalf("%s does not say how dense its pixels are", args[1])
	}
	if got := binary.BigEndian.Uint32([]byte(after)); strconv.Itoa(int(got)) != args[0] || after[8] != 1 {
		ts.Fatalf("%s has %d pixels per unit %d, want %s per metre", args[1], got, after[8], args[0])
	}
}

// freePort finds a port that nobody answers at: freeport VARIABLE.
func freePort(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: freeport VARIABLE")
	}
	on, err := net.Listen("tcp", "127.0.0.1:0")
	ts.Check(err)
	defer on.Close()
	ts.Setenv(args[0], strconv.Itoa(on.Addr().(*net.TCPAddr).Port))
}

// fetch keeps a page, once there is somebody who answers: fetch URL FILE.
func fetch(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: fetch URL FILE")
	}
	until := time.Now().Add(20 * time.Second)
	for {
		resp, err := http.Get(args[0])
		if err == nil {
			defer resp.Body.Close()
			data, err := io.ReadAll(resp.Body)
			ts.Check(err)
			write(ts, args[1], data)
			return
		}
		if time.Now().After(until) {
			ts.Fatalf("nobody answers: %v", err)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// empty checks that nothing is called so: empty PATTERN.
func empty(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: empty PATTERN")
	}
	found, err := filepath.Glob(ts.MkAbs(args[0]))
	ts.Check(err)
	if (len(found) == 0) == neg {
		ts.Fatalf("%s: found %v", args[0], found)
	}
}

// sameNames checks that two folders hold files of the same names, some at least, hidden ones apart: samenames DIR OTHER.
func sameNames(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: samenames DIR OTHER")
	}
	var names [2][]string
	for i, dir := range args {
		ts.Check(fs.WalkDir(os.DirFS(ts.MkAbs(dir)), ".", func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && !strings.HasPrefix(d.Name(), ".") {
				names[i] = append(names[i], path)
			}
			return err
		}))
	}
	if len(names[0]) == 0 || !slices.Equal(names[0], names[1]) {
		ts.Fatalf("%v and %v", names[0], names[1])
	}
}

// shards judges all parts of a library, one after the other, whatever they exit with: shards COUNT FOLDER ARG... . The reports go to FOLDER.
func shards(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: shards COUNT FOLDER ARG...")
	}
	of, err := strconv.Atoi(args[0])
	ts.Check(err)
	ts.Check(os.MkdirAll(ts.MkAbs(args[1]), 0o777))
	for n := range of {
		name := fmt.Sprintf("%d/%d", n+1, of)
		err := ts.Exec("peelcheck", append([]string{"check", "--format", "json", "--shard", name}, args[2:]...)...)
		if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		write(ts, filepath.Join(args[1], strconv.Itoa(n+1)+".json"), []byte(ts.ReadFile("stdout")))
	}
}

// cut keeps the first bytes of a file: cut FILE COUNT NEWFILE.
func cut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: cut FILE COUNT NEWFILE")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	data := ts.ReadFile(args[0])
	if n >= len(data) {
		ts.Fatalf("%s has only %d bytes", args[0], len(data))
	}
	write(ts, args[2], []byte(data[:n]))
}

// header writes the beginning of a PNG that claims a size: header WIDTH HEIGHT FILE.
func header(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: header WIDTH HEIGHT FILE")
	}
	w, err := strconv.ParseUint(args[0], 10, 32)
	ts.Check(err)
	h, err := strconv.ParseUint(args[1], 10, 32)
	ts.Check(err)
	fields := binary.BigEndian.AppendUint32(nil, uint32(w))
	fields = binary.BigEndian.AppendUint32(fields, uint32(h))
	fields = append(fields, 8, 6, 0, 0, 0)
	data := append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", fields)...)
	data = append(data, chunk("IDAT", nil)...)
	write(ts, args[2], append(data, chunk("IEND", nil)...))
}

func write(ts *testscript.TestScript, name string, data []byte) {
	ts.Check(os.WriteFile(ts.MkAbs(name), data, 0o666))
}

// drawing is what the art file of a script shows, one string a row, and how large a character is.
type drawing struct {
	pages    [][]string
	ppi      float64 // 0 for none told
	scale    int     // pixels a character
	password string
}

var paints = map[rune]color.NRGBA{
	'.': {},
	'#': {A: 255},
	'w': {255, 255, 255, 255},
	'r': {200, 30, 30, 255},
	'b': {30, 60, 200, 255},
	'g': {128, 128, 128, 255},
}

// draw makes artwork from rows of characters: draw [-ppi N] [-scale N] [-password WORD] ART FILE. The extension of FILE
// says the format: png, jpeg, gif or pdf. A row of --- begins a new page.
func draw(ts *testscript.TestScript, neg bool, args []string) {
	d := drawing{scale: 1}
	for len(args) > 2 {
		var err error
		switch args[0] {
		case "-ppi":
			d.ppi, err = strconv.ParseFloat(args[1], 64)
		case "-scale":
			d.scale, err = strconv.Atoi(args[1])
		case "-password":
			d.password = args[1]
		default:
			ts.Fatalf("draw: unknown option %q", args[0])
		}
		ts.Check(err)
		args = args[2:]
	}
	if neg || len(args) != 2 {
		ts.Fatalf("usage: draw [-ppi N] [-scale N] [-password WORD] ART FILE")
	}
	for _, page := range strings.Split(ts.ReadFile(args[0]), "---\n") {
		d.pages = append(d.pages, strings.Fields(page))
	}
	data, err := d.encode(filepath.Ext(args[1]))
	ts.Check(err)
	write(ts, args[1], data)
}

func (d *drawing) encode(ext string) ([]byte, error) {
	if ext == ".pdf" {
		return d.pdf()
	}
	m, err := d.picture()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	switch ext {
	case ".jpeg":
		err = jpeg.Encode(&out, m, nil)
	case ".gif":
		err = gif.Encode(&out, m, nil)
	default:
		err = png.Encode(&out, m)
	}
	if err != nil || d.ppi == 0 || ext == ".jpeg" || ext == ".gif" {
		return out.Bytes(), err
	}
	const afterIHDR = 33
	perMetre := binary.BigEndian.AppendUint32(nil, uint32(d.ppi/0.0254+0.5))
	fields := append(append(perMetre, perMetre...), 1)
	return bytes.Join([][]byte{out.Bytes()[:afterIHDR], chunk("pHYs", fields), out.Bytes()[afterIHDR:]}, nil), nil
}

func chunk(kind string, data []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func (d *drawing) picture() (*image.NRGBA, error) {
	rows := d.pages[0]
	m := image.NewNRGBA(image.Rect(0, 0, len(rows[0])*d.scale, len(rows)*d.scale))
	for y, row := range rows {
		if len(row) != len(rows[0]) {
			return nil, fmt.Errorf("row %d has %d characters, the first has %d", y+1, len(row), len(rows[0]))
		}
		for x, r := range row {
			c, ok := paints[r]
			if !ok {
				return nil, fmt.Errorf("no paint %q", r)
			}
			for i := range d.scale * d.scale {
				m.SetNRGBA(x*d.scale+i%d.scale, y*d.scale+i/d.scale, c)
			}
		}
	}
	return m, nil
}

// pdf writes each character as a filled square (ISO 32000-1, 7.5 and 8.5).
func (d *drawing) pdf() ([]byte, error) {
	side := 72 * float64(d.scale) / d.ppi
	var kids []string
	objects := []string{"<</Type/Catalog/Pages 2 0 R>>", ""}
	for _, rows := range d.pages {
		var ops strings.Builder
		for y, row := range rows {
			for x, r := range row {
				if c := paints[r]; c.A > 0 {
					fmt.Fprintf(&ops, "%.3f %.3f %.3f rg %.4f %.4f %.4f %.4f re f\n", float64(c.R)/255, float64(c.G)/255, float64(c.B)/255,
						float64(x)*side, float64(len(rows)-1-y)*side, side, side)
				}
			}
		}
		objects = append(objects, fmt.Sprintf("<</Length %d>>stream\n%sendstream", ops.Len(), ops.String()))
		objects = append(objects, fmt.Sprintf("<</Type/Page/Parent 2 0 R/Resources<<>>/MediaBox[0 0 %.4f %.4f]/Contents %d 0 R>>",
			float64(len(rows[0]))*side, float64(len(rows))*side, len(objects)))
		kids = append(kids, fmt.Sprintf("%d 0 R", len(objects)))
	}
	objects[1] = fmt.Sprintf("<</Type/Pages/Count %d/Kids[%s]>>", len(kids), strings.Join(kids, " "))
	data := pdftest.File(objects...)
	if d.password == "" {
		return data, nil
	}
	var out bytes.Buffer
	err := api.Encrypt(bytes.NewReader(data), &out, model.NewAESConfiguration(d.password, d.password, 256))
	return out.Bytes(), err
}
