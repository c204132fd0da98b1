package resultcache

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"runtime/debug"
)

// Program stands for the code of the running program: all that Go notes of a build from one commit without changes (the commit, the sums
// of its libraries, compiler, processor and settings) or, for any other build, the SHA-256 of the executable. Without either it is an error.
func Program(version string) (string, error) {
	if info, ok := debug.ReadBuildInfo(); ok && clean(info) {
		return version + "\n" + info.String(), nil
	}
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s\n%s", version, hex.EncodeToString(h.Sum(nil))), nil
}

// clean reports whether the build can be told by its commit: no changes beside it, no library that a folder stands in for, no code laid
// over it.
func clean(info *debug.BuildInfo) bool {
	var commit, unchanged bool
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			commit = s.Value != ""
		case "vcs.modified":
			unchanged = s.Value == "false"
		case "-overlay", "-toolexec", "-ldflags", "-gcflags", "-asmflags":
			return false
		}
	}
	for _, m := range info.Deps {
		if m.Replace != nil || m.Sum == "" {
			return false
		}
	}
	return commit && unchanged
}
