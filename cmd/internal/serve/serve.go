// Package serve shows the files of an archive, or those of a cruise whose casts still arrive, to browsers on this
// machine: on loopback addresses only, for reading only.
//
//	err := serve.Run(ctx, serve.Plan{Path: "demo/saltmarten-2026-05", Ready: func(url string) { fmt.Println(url) }})
package serve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/metadata"
)

// A Plan is what to show, and where.
type Plan struct {
	Path    string            // an archive, or a cruise file
	Address string            // host:port of a loopback address; "": a free port of 127.0.0.1
	Build   pipeline.Plan     // for a cruise file: how it is built; its CruiseFile and Out are set here
	Ready   func(url string)  // called once, when browsers can connect; nil: nobody
	Note    func(text string) // called after each build of a cruise file; nil: nobody
	Every   time.Duration     // how often a cruise file and its folder are looked at for changes; 0: two seconds
}

// ErrAddress is the cause of an error for an address that other machines can reach.
var ErrAddress = errors.New("not a loopback address: other machines could read the data")

// Run shows until ctx is done, then ends the connections that are open and returns nil.
func Run(ctx context.Context, plan Plan) error {
	address, err := loopback(plan.Address)
	if err != nil {
		return err
	}
	s := &site{}
	info, err := os.Stat(plan.Path)
	switch {
	case err != nil:
		return &metadata.InputError{Position: metadata.Position{File: plan.Path}, Err: err,
			Remedy: "name an archive that castwright build made, or a cruise file"}
	case info.IsDir():
		if _, err := bag.ReadInfo(plan.Path); err != nil {
			return &metadata.InputError{Position: metadata.Position{File: plan.Path},
				Err:    fmt.Errorf("not an archive: %w", err),
				Remedy: "name the folder that castwright build made, or a cruise file"}
		}
		if err := s.show(filepath.Join(plan.Path, "data"), ""); err != nil {
			return err
		}
	}
	defer s.close()
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	own := listener.Addr().(*net.TCPAddr).AddrPort()
	server := &http.Server{Handler: guard(own.Port(), s), ReadHeaderTimeout: 10 * time.Second,
		WriteTimeout: 10 * time.Minute, MaxHeaderBytes: 16 << 10}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	if plan.Ready != nil {
		plan.Ready("http://" + own.String() + "/")
	}
	watched := make(chan error, 1)
	if info.IsDir() {
		watched = nil
	} else {
		go func() { watched <- watch(ctx, &plan, s) }()
	}
	select {
	case err = <-served:
	case err = <-watched:
	case <-ctx.Done():
	}
	cancel()
	wait, stop := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
	defer stop()
	if server.Shutdown(wait) != nil {
		server.Close() //nolint:errcheck // the connections that did not end
	}
	if watched != nil && err == nil {
		err = <-watched
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// loopback returns an address to listen on; an error when other machines could reach it.
func loopback(address string) (string, error) {
	if address == "" {
		return "127.0.0.1:0", nil
	}
	refuse := func(err error) (string, error) {
		return "", &metadata.InputError{Position: metadata.Position{File: address}, Err: err,
			Remedy: "give 127.0.0.1:PORT, [::1]:PORT or localhost:PORT"}
	}
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return refuse(err)
	}
	if host == "localhost" {
		return net.JoinHostPort("127.0.0.1", port), nil
	}
	ip, err := netip.ParseAddr(host)
	if err != nil || !ip.IsLoopback() || ip.Zone() != "" {
		return refuse(ErrAddress)
	}
	return address, nil
}
