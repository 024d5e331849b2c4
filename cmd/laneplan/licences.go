package main

import (
	"embed"
	"fmt"
	"io/fs"

	"github.com/spf13/cobra"
)

// notices are the licences of what the program is made of, one file a piece;
// a test keeps them complete and exact.
//
//go:embed notices/*.txt
var notices embed.FS

func licencesCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "licences",
		Short: "Print the licence notices of laneplan and of everything embedded in it",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, args []string) error {
			files, err := fs.Glob(notices, "notices/*.txt")
			if err != nil {
				return err
			}
			for i, file := range files {
				text, err := notices.ReadFile(file)
				if err != nil {
					return err
				}
				if i > 0 {
					text = append([]byte("\n"), text...)
				}
				if _, err := fmt.Fprintf(a.stdout, "%s", text); err != nil {
					return err
				}
			}
			return nil
		},
	}
}
