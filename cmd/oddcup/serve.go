package main

import (
	"context"
	"fmt"
)

// serveCommand runs sessions until it is interrupted.
type serveCommand struct {
	Data    string   `help:"File that holds everything. Made on the first run. Default: oddcup's place among your programs' data." placeholder:"FILE"`
	Console string   `help:"Address of the host's console, on loopback." default:"127.0.0.1:7760" placeholder:"ADDRESS:PORT"`
	Tasters string   `help:"Address of the tasters' pages. Default: this laptop's on the local network, port 7761." placeholder:"ADDRESS:PORT"`
	Name    []string `help:"Host name by which phones reach the tasters' pages, if the network gives one. May be repeated." placeholder:"NAME"`
}

// Run implements the command.
func (c *serveCommand) Run(ctx context.Context, to streams) error {
	data, err := dataFile(c.Data)
	if err != nil {
		return err
	}
	h, err := openHouse(ctx, houseOptions{
		data: data, console: c.Console, tasters: c.Tasters, names: c.Name, log: newLog(to.err),
	})
	if err != nil {
		return err
	}
	defer h.close()
	h.greet(to, data)
	select {
	case <-ctx.Done():
		fmt.Fprintln(to.err, "oddcup: stopping; everything kept is on disk")
		return nil
	case err := <-h.failed:
		return err
	}
}

// greet says where everything is.
func (h *house) greet(to streams, data string) {
	fmt.Fprintf(to.out, "Console, for the head cupper:  %s\n", h.console)
	fmt.Fprintf(to.out, "Tasters' phones:               %s\n", h.join)
	fmt.Fprintf(to.out, "Everything is kept in:         %s\n", data)
	if h.trouble != "" {
		fmt.Fprintf(to.out, "\n%s\n", h.trouble)
	}
	if code, err := terminalQR(h.join + "/"); err == nil {
		fmt.Fprintf(to.out, "\nTo join, once a lobby is open:\n%s", code)
	}
	fmt.Fprintln(to.out, "\nStop with Ctrl-C.")
}
