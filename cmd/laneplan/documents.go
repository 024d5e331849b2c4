package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"laneplan/jobs"
	"laneplan/jobs/dossier"
	"laneplan/jobs/intake"
	"laneplan/jobs/planfile"
	"laneplan/jobs/rewind"
	"laneplan/jobs/ticket"
	"laneplan/nest"
	"laneplan/solver"
)

// documentFlags are those of every command that writes a gang's documents.
type documentFlags struct {
	replace bool
	printed dateFlag
}

var documentOnly = []string{"replace", "printed"}

func addDocumentFlags(flags *pflag.FlagSet) *documentFlags {
	var f documentFlags
	flags.BoolVar(&f.replace, "replace", false, "put new documents in the place of old ones")
	flags.Var(&f.printed, "printed", "date on the documents (default: today)")
	flags.Lookup("printed").DefValue = ""
	return &f
}

func (f *documentFlags) options() ticket.Options { return ticket.Options{Replace: f.replace} }

// namesFolder says whether the name given to --out is one of a folder: it ends
// in a slash, a folder of that name is there, or it has no ending.
func namesFolder(out string) bool {
	if out == "" {
		return false
	}
	if strings.HasSuffix(out, "/") || strings.HasSuffix(out, string(os.PathSeparator)) || filepath.Ext(out) == "" {
		return true
	}
	info, err := os.Stat(out)
	return err == nil && info.IsDir()
}

// folderOf a gang's documents.
func folderOf(out string, g jobs.Gang) string { return filepath.Join(out, ticket.FolderName(g.ID)) }

// ready refuses before a search what would fail after it.
func (f *documentFlags) ready(out string, g jobs.Gang) error {
	if err := ticket.Check(g); err != nil {
		return documentError(err)
	}
	if err := f.options().Ready(folderOf(out, g)); err != nil {
		return documentError(err)
	}
	return nil
}

// documentError gives what is wrong with documents its exit code.
func documentError(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return interrupted("interrupted; no documents are written")
	case errors.Is(err, rewind.ErrCannotWind):
		return &coded{exitInfeasible, err}
	case errors.Is(err, ticket.ErrThere):
		return usage("--out: %w (--replace)", err)
	default:
		return &coded{exitInput, err}
	}
}

// inFile gives what is wrong with documents its line in the job file, where it
// has one; the exit code stays.
func inFile(file string, err error) error {
	var refusal *rewind.Refusal
	var known *coded
	if !errors.As(err, &refusal) || !errors.As(err, &known) {
		return err
	}
	placed := intake.Placed(file, jobs.Faults{{Path: refusal.Path, Message: refusal.Error()}})
	if placed == nil {
		return err
	}
	return &coded{known.code, placed}
}

// documents writes the folder of one gang under out.
func (a *app) documents(out string, f *documentFlags, g jobs.Gang, p nest.Problem, plan planfile.Gang, engine solver.Solver) error {
	job, err := dossier.New(a.ctx, g, p, plan, dossier.Options{Printed: f.printed.day(), Engine: engine})
	var savings *dossier.SavingsError
	if errors.As(err, &savings) {
		return err
	}
	if err != nil {
		return documentError(err)
	}
	// After Ctrl-C the best plan is still written, as it is to a file.
	if err := ticket.WriteAll(context.WithoutCancel(a.ctx), folderOf(out, g), job, f.options()); err != nil {
		return documentError(err)
	}
	return nil
}
