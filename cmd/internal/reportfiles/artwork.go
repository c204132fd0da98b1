package reportfiles

import (
	"bufio"
	"encoding/json"
	"errors"
	"os"

	"peelcheck/preflight"
)

// ArtworkOf reads which artwork the report in a file is of, and no further: the findings that follow may be many.
func ArtworkOf(path string) (preflight.ArtworkInfo, error) {
	f, err := os.Open(path)
	if err != nil {
		return preflight.ArtworkInfo{}, err
	}
	defer f.Close()
	dec := json.NewDecoder(bufio.NewReader(f))
	if at, err := dec.Token(); err != nil || at != json.Delim('{') {
		return preflight.ArtworkInfo{}, errors.New("it is no report")
	}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return preflight.ArtworkInfo{}, err
		}
		if key == "artwork" {
			var a preflight.ArtworkInfo
			err := dec.Decode(&a)
			return a, err
		}
		var other json.RawMessage
		if err := dec.Decode(&other); err != nil {
			return preflight.ArtworkInfo{}, err
		}
	}
	return preflight.ArtworkInfo{}, errors.New("it names no artwork")
}
