package main

import "github.com/spf13/cobra"

func (f *studyFlags) writeCards(c *cobra.Command, solos []studied) error { return nil }
