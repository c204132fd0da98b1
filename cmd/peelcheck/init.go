package main

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"text/template"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/outfile"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
)

type initFlags struct {
	setup.Asked
	force bool
}

func newInit(say *speaker) *cobra.Command {
	var f initFlags
	cmd := &cobra.Command{
		Use:   "init",
		Short: "Writes a commented peelcheck.yaml for this shop",
		Long: `Writes peelcheck.yaml into the current folder: every setting with what it does and what holds without it, as a
remark. Nothing changes until a remark's # is taken away; only what the flags here set is set at once. The other
commands read the file from the folder where they are called.

A file that is there already stays as it is, unless --force is given.`,
		Example: `  peelcheck init
  peelcheck init --process film-underbase --garment navy --sheet a3`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return &problem.Problem{Reason: fmt.Sprintf("init takes no name, and was given %q", args[0]), Remedy: "name another file with --config"}
			}
			return f.write(cmd.Context(), say)
		},
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	fs.StringVar(&f.Config, "config", setup.DefaultConfig, "the `FILE` that is written")
	fs.StringVar(&f.Process, "process", "", "set the process: an `ID` that \"peelcheck process\" lists")
	fs.StringVar(&f.Garment, "garment", "", "set the garment's `COLOUR`")
	fs.StringVar(&f.Sheet, "sheet", "", "set the sheet: "+sheetWords+" or `SIZE` as 210x297")
	fs.BoolVar(&f.force, "force", false, "overwrite a file of this name")
	return cmd
}

func (f *initFlags) write(ctx context.Context, say *speaker) error {
	text, err := f.text()
	if err != nil {
		return err
	}
	switch _, err := os.Lstat(f.Config); {
	case err == nil && !f.force:
		return problem.New(f.Config, "this file is there already and stays as it is", "name another with --config, or overwrite it with --force")
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return problem.About(f.Config, err)
	}
	err = outfile.Write(ctx, f.Config, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
	if err != nil {
		p := problem.About(f.Config, err)
		return problem.New(p.File, "the settings cannot be written: "+p.Reason, "name another file with --config")
	}
	return say.text(fmt.Sprintf("Written: %s. Open it with any text editor; the lines that begin with # are remarks.\n", f.Config))
}

//go:embed init.yaml
var settingsText string

var settingsTemplate = template.Must(template.New("settings").Parse(settingsText))

// settings is what the template of the file shows.
type settings struct {
	Process, Garment, Sheet string // set by a flag, as YAML; empty if not
	Job                     preflight.Job
	Fabrics                 string
	Limits                  []settingsLimit
}

type settingsLimit struct{ Name, Value, Means string }

// text is the file. What the flags set is tried out first.
func (f *initFlags) text() ([]byte, error) {
	job, err := f.Asked.Job(&preflight.ShopConfig{})
	if err != nil {
		return nil, err
	}
	s := settings{Process: scalar(f.Process), Garment: scalar(f.Garment), Sheet: scalar(f.Sheet), Job: job}
	var fabrics []string
	for _, c := range job.Process.Fabrics {
		fabrics = append(fabrics, c.Name)
	}
	s.Fabrics = strings.Join(fabrics, ", ")
	for _, name := range preflight.LimitNames {
		l := job.Limits[name]
		value := strconv.FormatFloat(l.Value, 'g', 4, 64)
		if l.Unit == "mm" {
			value += "mm"
		}
		means := limitWords[name]
		if name == "tint" && job.Process.LimitValues.Tint == 0 {
			means += "; without it, what the process's screen holds"
		}
		s.Limits = append(s.Limits, settingsLimit{name, value, means})
	}
	var out bytes.Buffer
	err = settingsTemplate.Execute(&out, s)
	return out.Bytes(), err
}

var plainScalar = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

// scalar writes a word as YAML.
func scalar(s string) string {
	if s == "" || plainScalar.MatchString(s) {
		return s
	}
	return strconv.Quote(s)
}
