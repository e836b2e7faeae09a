package pipeline

import (
	"context"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// workers returns the number of workers to use: n, or one for each processor when n is 0 or less.
func workers(n int) int {
	if n <= 0 {
		return runtime.GOMAXPROCS(0)
	}
	return n
}

// each calls f for 0..n-1 on at most limit workers. f keeps its own error where a neighbour must not be stopped; an
// error it returns, or the end of ctx, stops what has not begun.
func each(ctx context.Context, limit, n int, f func(i int) error) error {
	g, inner := errgroup.WithContext(ctx)
	g.SetLimit(workers(limit))
	for i := range n {
		if inner.Err() != nil {
			break
		}
		g.Go(func() error {
			if err := inner.Err(); err != nil {
				return err
			}
			return f(i)
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	return ctx.Err()
}
