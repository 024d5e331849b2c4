package main

import (
	"context"
	"io"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is set by the linker for a release.
var version = ""

// app is what the commands share.
type app struct {
	ctx            context.Context
	stdout, stderr io.Writer
	isTerminal     func(io.Writer) bool
	started        bool // a command's own work has begun: usage was in order
}

func (a *app) run(args []string) int {
	root := a.command()
	root.SetArgs(args)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	return a.end(root.ExecuteContext(a.ctx))
}

func (a *app) command() *cobra.Command {
	root := &cobra.Command{
		Use:   "laneplan",
		Short: "Plan gang runs of self-adhesive labels at the least money",
		Long: `laneplan decides which version of a label runs in which lane for how many rows,
section by section, so that overrun and changeover waste, in money, are as low
as an integer programme can prove.

Exit codes: 0 done, the plan is checked; 1 our own failure; 2 bad input or
usage; 3 no plan can meet the demands; 4 a batch in which some gangs failed;
130 interrupted, nothing half-written.`,
		Version:       versionText(),
		SilenceErrors: true, // end prints them, once
		SilenceUsage:  true,
		PersistentPreRun: func(*cobra.Command, []string) {
			a.started = true
		},
	}
	root.SetVersionTemplate("laneplan {{.Version}}\n")
	root.AddCommand(
		initCommand(a), poolCommand(a), planCommand(a), priceCommand(a), checkCommand(a), verifyCommand(a),
		explainCommand(a), batchCommand(a), workerCommand(a), ticketsCommand(a), recordCommand(a), historyCommand(a), benchCommand(a), growthCommand(a),
		schemaCommand(a), licencesCommand(a),
	)
	return root
}

// versionText is the release, or what Go knows of the build.
func versionText() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "of unknown version"
	}
	text := info.Main.Version
	if text == "" || text == "(devel)" {
		text = "development build"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 && info.Main.Version == "(devel)" {
			text += " " + s.Value[:12]
		}
	}
	return text
}
