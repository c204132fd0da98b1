package setup

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"peelcheck/cmd/internal/globs"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/waiver"
	"peelcheck/preflight"
)

// Folder is what holds for the artwork of one folder.
type Folder struct {
	Shop    *preflight.ShopConfig
	Job     preflight.Job
	Files   []string    // settings files read, the outermost first
	Lists   globs.Lists // of those files
	Waivers waiver.List // of all of them, the outermost first
	err     error
}

// Folders reads the settings files of folders, each once. It is not safe for concurrent use.
type Folders struct {
	asked *Asked
	cwd   string // absolute
	known map[string]*Folder
	asIs  map[fromRoot]*Folder
	top   *Folder
}

// fromRoot is a folder as it was named, found below another one.
type fromRoot struct{ root, dir string }

// NewFolders reads the settings file that holds for all: the one named, or the current folder's if there is one.
func (a *Asked) NewFolders() (*Folders, error) {
	cwd, err := os.Getwd()
	if err != nil {
		return nil, problem.About(".", err)
	}
	f := &Folders{asked: a, cwd: cwd, known: map[string]*Folder{}, asIs: map[fromRoot]*Folder{}}
	f.top = f.below(f.settle(&Folder{Shop: &preflight.ShopConfig{}}), First(a.Config, DefaultConfig))
	return f, f.top.err
}

// Top is what holds where no folder says otherwise.
func (f *Folders) Top() *Folder { return f.top }

// In returns what holds for artwork in dir, which was found below root or is root: the settings of every folder from the current one
// down to dir or, if dir lies elsewhere, those of the current folder and then from root down to dir. The nearest wins. A file named on the
// command line, with --config, is the only one read.
func (f *Folders) In(root, dir string) (*Folder, error) {
	if known, ok := f.asIs[fromRoot{root, dir}]; ok {
		return known, known.err
	}
	known, err := f.in(root, dir)
	if known != nil {
		f.asIs[fromRoot{root, dir}] = known
	}
	return known, err
}

func (f *Folders) in(root, dir string) (*Folder, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, problem.About(dir, err)
	}
	if f.asked.Config != "" || abs == f.cwd {
		return f.top, f.top.err
	}
	if known, ok := f.known[abs]; ok {
		return known, known.err
	}
	above := f.top
	within := strings.HasPrefix(abs, strings.TrimSuffix(f.cwd, string(filepath.Separator))+string(filepath.Separator))
	if up := filepath.Dir(abs); up != abs && (within || filepath.Clean(dir) != filepath.Clean(root)) {
		if above, err = f.In(root, filepath.Dir(filepath.Clean(dir))); err != nil {
			return nil, err
		}
	}
	out := f.below(above, filepath.Join(dir, DefaultConfig))
	f.known[abs] = out
	return out, out.err
}

// below adds the settings file of that name, if there is one, to what holds above it.
func (f *Folders) below(above *Folder, name string) *Folder {
	f.tellMisnamed(name)
	data, err := f.asked.readSettings(name)
	if errors.Is(err, fs.ErrNotExist) && name != f.asked.Config {
		return above
	}
	if err != nil {
		return &Folder{err: problem.About(name, err)}
	}
	shop, err := above.Shop.Extended(filepath.ToSlash(name), data)
	if err != nil {
		return &Folder{err: &problem.Problem{Reason: err.Error()}}
	}
	base, err := filepath.Abs(filepath.Dir(name))
	if err != nil {
		return &Folder{err: problem.About(name, err)}
	}
	out := &Folder{Shop: &shop, Files: append(slices.Clip(above.Files), name), Lists: slices.Clip(above.Lists), Waivers: slices.Clip(above.Waivers)}
	if shop.Include != nil || shop.Exclude != nil {
		out.Lists = append(out.Lists, globs.List{From: name, Base: base, Include: shop.Include, Exclude: shop.Exclude})
	}
	own, err := waiver.In(name, shop.Waivers)
	if err != nil {
		return &Folder{err: err}
	}
	out.Waivers = append(out.Waivers, own...)
	return f.settle(out)
}

// tellMisnamed tells of a file beside the settings file so named that looks like it and is not read.
func (f *Folders) tellMisnamed(name string) {
	if f.asked.Tell == nil || name == f.asked.Config {
		return
	}
	other := filepath.Join(filepath.Dir(name), misnamed)
	if _, err := os.Stat(other); err == nil {
		f.asked.Tell(problem.New(filepath.ToSlash(other), "this file is not read", "call it "+DefaultConfig))
	}
}

// settle puts the folder's job together.
func (f *Folders) settle(in *Folder) *Folder {
	in.Job, in.err = f.asked.Job(in.Shop)
	return in
}
