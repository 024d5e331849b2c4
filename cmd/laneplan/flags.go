package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// The kinds of flag values below refuse what they do not mean in one
// sentence, which pflag puts behind the flag's name.

// span is a time such as 30s; 0 is none.
type span time.Duration

func (s *span) Type() string   { return "duration" }
func (s *span) String() string { return time.Duration(*s).String() }

func (s *span) Set(text string) error {
	d, err := time.ParseDuration(text)
	if err != nil || d < 0 {
		return fmt.Errorf("want a time such as 30s or 2m, 0 for none, got %q", text)
	}
	*s = span(d)
	return nil
}

// amount is a number from 0; 0 is none.
type amount float64

func (a *amount) Type() string   { return "number" }
func (a *amount) String() string { return strconv.FormatFloat(float64(*a), 'g', -1, 64) }

func (a *amount) Set(text string) error {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x >= 0 && x <= 1e12) {
		return fmt.Errorf("want a number from 0, 0 for none, got %q", text)
	}
	*a = amount(x)
	return nil
}

// share is a fraction below 1, also written in percent.
type share float64

func (s *share) Type() string   { return "share" }
func (s *share) String() string { return strconv.FormatFloat(float64(*s), 'g', -1, 64) }

func (s *share) Set(text string) error {
	number, percent := strings.CutSuffix(text, "%")
	x, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent {
		x /= 100
	}
	if err != nil || !(x >= 0 && x < 1) {
		return fmt.Errorf("want a share such as 1%% or 0.01, from 0 to below 1, got %q", text)
	}
	*s = share(x)
	return nil
}

// count is a whole number from 1; 0, the default, is not set.
type count int

func (c *count) Type() string   { return "number" }
func (c *count) String() string { return strconv.Itoa(int(*c)) }

func (c *count) Set(text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return fmt.Errorf("want a whole number from 1, got %q", text)
	}
	*c = count(n)
	return nil
}

// choice is one of a few words.
type choice struct {
	word  string
	words []string
}

func (c *choice) Type() string   { return strings.Join(c.words, "|") }
func (c *choice) String() string { return c.word }

func (c *choice) Set(text string) error {
	for _, word := range c.words {
		if text == word {
			c.word = word
			return nil
		}
	}
	return fmt.Errorf("want %s, got %q", strings.Join(c.words, ", "), text)
}

// format adds the flag that chooses how the result is written.
func format(command *cobra.Command, words ...string) *choice {
	return choiceFlag(command, "format", "f", "how the result is written", words...)
}

// choiceFlag adds a flag of a few words, of which the first is the default.
func choiceFlag(command *cobra.Command, name, letter, help string, words ...string) *choice {
	c := &choice{word: words[0], words: words}
	command.Flags().VarP(c, name, letter, help)
	if err := command.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)); err != nil {
		panic(err) // the flag is not there: our own bug
	}
	return c
}
