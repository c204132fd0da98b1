// Package gitchange asks git which files have changed since a commit, or are about to. Start at Since or Staged.
package gitchange

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"peelcheck/cmd/internal/problem"
)

// Set is what has changed in the working trees of some folders: what differs from the commit, what is gone, and all that git does not
// keep. A file that was renamed has changed.
type Set struct {
	tops    []string
	changed map[string]bool // absolute paths without links; of a repository within, its folder
	unlike  map[string]bool // of those staged, which lie there otherwise than they were staged
}

// Since asks git about the trees that the folders and files named lie in. Errors are a *problem.Problem.
func Since(ctx context.Context, rev string, names []string) (*Set, error) {
	return ask(ctx, "--changed-since", names, func(s *Set, top, name string) error { return s.tree(ctx, top, rev, name) })
}

// Staged asks git what the next commit will change in the trees that the folders and files named lie in. Errors are a *problem.Problem.
func Staged(ctx context.Context, names []string) (*Set, error) {
	return ask(ctx, "--staged", names, func(s *Set, top, name string) error { return s.index(ctx, top, name) })
}

// ask goes through the trees; flag is what is told to have asked.
func ask(ctx context.Context, flag string, names []string, tree func(s *Set, top, name string) error) (*Set, error) {
	s := &Set{changed: map[string]bool{}, unlike: map[string]bool{}}
	for _, name := range names {
		dir := name
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			dir = filepath.Dir(name)
		}
		if _, err := os.Stat(dir); err != nil {
			continue // judging it will tell
		}
		top, err := git(ctx, dir, "rev-parse", "--show-toplevel")
		if err != nil {
			return nil, noRepository(flag, dir, err)
		}
		if top, err = filepath.EvalSymlinks(strings.TrimSuffix(top, "\n")); err != nil {
			return nil, problem.About(dir, err)
		}
		if slices.Contains(s.tops, top) {
			continue
		}
		s.tops = append(s.tops, top)
		if err := tree(s, top, name); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func noRepository(flag, dir string, err error) error {
	if errors.Is(err, exec.ErrNotFound) {
		return problem.New("", flag+" asks git what has changed, and git is not installed or not on the path", "install git, or leave the flag out to judge all")
	}
	return problem.New(dir, flag+" asks git, and this folder is in no git working tree that can be used: "+firstLine(err), "leave the flag out to judge all")
}

// tree adds what has changed in one working tree.
func (s *Set) tree(ctx context.Context, top, rev, name string) error {
	commit, err := git(ctx, top, "rev-parse", "--verify", "--quiet", "--end-of-options", rev+"^{commit}")
	if err != nil {
		return problem.New(name, fmt.Sprintf("git knows no commit %q here", rev), "check the name, or fetch it first: CI systems often fetch the last commit alone")
	}
	for _, args := range [][]string{
		{"diff", "--name-only", "-z", "--no-renames", "--no-ext-diff", "--ignore-submodules=none", strings.TrimSpace(commit), "--"},
		{"ls-files", "-z", "--others"}, // those that .gitignore names too
	} {
		list, err := git(ctx, top, args...)
		if err != nil {
			return problem.New(name, "git cannot say what has changed: "+firstLine(err), "leave --changed-since out to judge all")
		}
		for rel := range strings.SplitSeq(list, "\x00") {
			if rel != "" {
				s.changed[filepath.Join(top, filepath.FromSlash(rel))] = true
			}
		}
	}
	return nil
}

// index adds what is staged in one working tree.
func (s *Set) index(ctx context.Context, top, name string) error {
	for _, q := range []struct {
		args []string
		into map[string]bool
	}{
		{[]string{"diff", "--cached", "--name-only", "-z", "--no-renames", "--no-ext-diff", "--ignore-submodules=none", "--"}, s.changed},
		{[]string{"diff", "--name-only", "-z", "--no-renames", "--no-ext-diff", "--ignore-submodules=all", "--"}, s.unlike},
	} {
		list, err := gitOfHook(ctx, top, "", q.args...)
		if err != nil {
			return problem.New(name, "git cannot say what is staged: "+firstLine(err), "leave --staged out to judge all")
		}
		for rel := range strings.SplitSeq(list, "\x00") {
			if rel != "" {
				q.into[filepath.Join(top, filepath.FromSlash(rel))] = true
			}
		}
	}
	return nil
}

// Unlike reports whether a file lies there otherwise than it was staged.
func (s *Set) Unlike(path string) bool {
	abs, err := filepath.Abs(path)
	return err == nil && s.unlike[linkless(abs)]
}

// Content returns a file as it is staged, if it lies there otherwise or is gone; ok is false for any other, which is to be read as it lies.
// Errors are a *problem.Problem.
func (s *Set) Content(ctx context.Context, path string) (data []byte, ok bool, err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, false, problem.About(path, err)
	}
	abs = linkless(abs)
	if !s.unlike[abs] {
		return nil, false, nil
	}
	for _, top := range s.tops {
		rel, err := filepath.Rel(top, abs)
		if err != nil || !filepath.IsLocal(rel) {
			continue
		}
		text, err := gitOfHook(ctx, top, "", "cat-file", "blob", ":"+filepath.ToSlash(rel))
		if err != nil {
			return nil, false, problem.New(path, "git cannot give out what is staged: "+firstLine(err), "end a merge that is under way, or leave --staged out")
		}
		return []byte(text), true, nil
	}
	return nil, false, nil
}

// Missing lists the files that git keeps and that are gone from the folder or file named, or from below it, sorted by path.
func (s *Set) Missing(name string) (list []string) {
	base, err := filepath.Abs(name)
	if err != nil {
		return nil
	}
	real := resolved(linkless(base))
	for path := range s.unlike {
		rel, err := filepath.Rel(real, path)
		if err != nil || !filepath.IsLocal(rel) {
			continue
		}
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			list = append(list, filepath.Join(name, rel))
		}
	}
	slices.Sort(list)
	return list
}

// CheckOut writes files as they are staged into the folder dir, through git's filters as it would put them into the tree, and returns where
// each lies there. Those that are not staged as a file are left out. Errors are a *problem.Problem.
func (s *Set) CheckOut(ctx context.Context, dir string, paths []string) (map[string]string, error) {
	copies, asked := map[string]string{}, map[string][]string{}
	for _, path := range paths {
		abs, err := filepath.Abs(path)
		if err != nil {
			return nil, problem.About(path, err)
		}
		abs = linkless(abs)
		for i, top := range s.tops {
			if rel, err := filepath.Rel(top, abs); err == nil && filepath.IsLocal(rel) {
				asked[top] = append(asked[top], filepath.ToSlash(rel))
				copies[path] = filepath.Join(dir, strconv.Itoa(i), rel)
			}
		}
	}
	for i, top := range s.tops {
		if len(asked[top]) == 0 {
			continue
		}
		_, err := gitOfHook(ctx, top, strings.Join(asked[top], "\x00"), "checkout-index", "--force", "-z", "--stdin", "--prefix="+filepath.Join(dir, strconv.Itoa(i))+"/")
		if err != nil {
			return nil, problem.New(top, "git cannot give out what is staged: "+firstLine(err), "end a merge that is under way, or leave --staged out")
		}
	}
	maps.DeleteFunc(copies, func(_, at string) bool {
		info, err := os.Lstat(at)
		return err != nil || !info.Mode().IsRegular()
	})
	return copies, nil
}

// indexVariable names the index of a commit that is being made, in a hook. A relative one counts from the top of its tree.
const indexVariable = "GIT_INDEX_FILE"

// gitOfHook runs git in the top folder of a tree with the index of the commit that is being made in it, if any.
func gitOfHook(ctx context.Context, top, stdin string, args ...string) (string, error) {
	index := os.Getenv(indexVariable)
	here, err := git(ctx, ".", "rev-parse", "--show-toplevel")
	if real, fault := filepath.EvalSymlinks(strings.TrimSuffix(here, "\n")); index == "" || err != nil || fault != nil || real != top {
		return run(ctx, top, stdin, nil, args)
	}
	if !filepath.IsAbs(index) {
		index = filepath.Join(top, index)
	}
	return run(ctx, top, stdin, []string{indexVariable + "=" + index}, args)
}

// git runs the command in dir. What a hook sets for its own calls of git would lead to another tree.
func git(ctx context.Context, dir string, args ...string) (string, error) {
	return run(ctx, dir, "", nil, args)
}

func run(ctx context.Context, dir, stdin string, env, args []string) (string, error) {
	cmd := exec.CommandContext(ctx, "git", args...)
	cmd.Dir, cmd.Stdin = dir, strings.NewReader(stdin)
	for _, v := range os.Environ() {
		name, _, _ := strings.Cut(v, "=")
		if !slices.Contains([]string{"GIT_DIR", "GIT_WORK_TREE", indexVariable, "GIT_PREFIX", "GIT_COMMON_DIR"}, name) {
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, env...)
	out, err := cmd.Output()
	if err != nil {
		return "", err
	}
	return string(out), nil
}

func firstLine(err error) string {
	var exit *exec.ExitError
	if !errors.As(err, &exit) || len(exit.Stderr) == 0 {
		return err.Error()
	}
	line, _, _ := strings.Cut(strings.TrimSpace(string(exit.Stderr)), "\n")
	return line
}

// Has reports whether a file has changed. One outside all the trees counts as changed, since nobody can tell.
func (s *Set) Has(path string) bool {
	abs, err := filepath.Abs(path)
	if err != nil {
		return true
	}
	for _, p := range []string{linkless(abs), resolved(abs)} {
		if s.has(p) {
			return true
		}
	}
	return false
}

func (s *Set) has(path string) bool {
	top := slices.IndexFunc(s.tops, func(top string) bool { return strings.HasPrefix(path, top+string(filepath.Separator)) })
	if top < 0 {
		return true
	}
	for p := path; len(p) > len(s.tops[top]); p = filepath.Dir(p) { // a repository within is listed by its folder
		if s.changed[p] {
			return true
		}
	}
	return false
}

// AnyAbove reports whether a file of that name has changed, or is gone, in the folder of path or one above it within the tree.
func (s *Set) AnyAbove(path, name string) bool {
	abs, err := filepath.Abs(path)
	if err != nil {
		return true
	}
	for dir := filepath.Dir(linkless(abs)); ; dir = filepath.Dir(dir) {
		if s.changed[filepath.Join(dir, name)] {
			return true
		}
		if slices.Contains(s.tops, dir) || filepath.Dir(dir) == dir {
			return false
		}
	}
}

// linkless is the path with links in its folders followed, but not the file's own.
func linkless(abs string) string {
	dir, err := filepath.EvalSymlinks(filepath.Dir(abs))
	if err != nil {
		return abs
	}
	return filepath.Join(dir, filepath.Base(abs))
}

func resolved(abs string) string {
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		return real
	}
	return abs
}
