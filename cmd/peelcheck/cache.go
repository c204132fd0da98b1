package main

import (
	"errors"
	"os"
	"path/filepath"
	"sync"

	"github.com/spf13/pflag"

	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/resultcache"
	"peelcheck/preflight"
)

// cacheVariable names the folder of --cache for every call.
const cacheVariable = "PEELCHECK_CACHE"

// cacheFlags are the flags that say where results are kept for the next run.
type cacheFlags struct {
	cacheDir string
	noCache  bool
}

func (c *cacheFlags) add(fs *pflag.FlagSet) {
	fs.StringVar(&c.cacheDir, "cache", "", "folder `DIR` that keeps results for the next run (default $"+cacheVariable+", else the user's cache folder)")
	fs.BoolVar(&c.noCache, "no-cache", false, "judge every file anew, and keep nothing")
}

// program begins to work out what stands for this program, which may take reading all of it, and returns how to wait for it.
func (c *cacheFlags) program() func() (string, error) {
	wait := sync.OnceValues(func() (string, error) { return resultcache.Program(preflight.Version) })
	if !c.noCache {
		go func() { _, _ = wait() }()
	}
	return wait
}

// cache opens the cache, nil for none. A folder that was asked for must be usable.
func (c *cacheFlags) cache(programOf func() (string, error)) (*resultcache.Cache, error) {
	if c.noCache {
		if c.cacheDir != "" {
			return nil, errors.New("--no-cache and --cache do not go together")
		}
		return nil, nil
	}
	dir := c.cacheDir
	if dir == "" {
		dir = os.Getenv(cacheVariable)
	}
	asked := dir != ""
	if !asked {
		user, err := os.UserCacheDir()
		if err != nil {
			return nil, nil
		}
		dir = filepath.Join(user, preflight.ToolName)
	}
	program, err := programOf()
	if err != nil && asked {
		return nil, problem.About(dir, err)
	}
	if err != nil {
		return nil, nil
	}
	cache, err := resultcache.Open(dir, program)
	switch {
	case err == nil:
		return cache, nil
	case asked:
		p := problem.About(dir, err)
		return nil, problem.New(p.File, "results cannot be kept here: "+p.Reason, "name another folder with --cache, or use --no-cache")
	}
	return nil, nil
}

// cacheFailure tells once that results cannot be kept.
func cacheFailure(say *speaker) func(error) {
	var once sync.Once
	return func(err error) {
		once.Do(func() {
			say.problem(&problem.Problem{Reason: "results cannot be kept for the next run: " + problem.About("the cache", err).Reason, Remedy: "all was judged all the same"})
		})
	}
}
