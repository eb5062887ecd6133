package main

import (
	"os"

	"github.com/mattn/go-isatty"
)

func ttyFile(f *os.File) bool { return isatty.IsTerminal(f.Fd()) || isatty.IsCygwinTerminal(f.Fd()) }
