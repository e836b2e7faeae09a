// Command castwright turns the binned CTD casts of a cruise into the cruise's data products: an archive with CF NetCDF, exchange
// files, sections, geostrophic velocity, figures and their provenance. castwright help tells the commands.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
