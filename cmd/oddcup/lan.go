package main

import (
	"fmt"
	"net"
	"regexp"
	"strings"

	"rsc.io/qr"
)

// tasterPort is the usual port of the tasters' pages.
const tasterPort = "7761"

// lanAddress guesses the address at which phones on the same network reach this
// laptop, and says why it may be wrong.
func lanAddress() (address, trouble string) {
	// Opening a UDP socket sends nothing; it asks the system which address it
	// would use on the way out. 192.0.2.1 is set aside for documentation
	// (RFC 5737).
	if c, err := net.Dial("udp4", "192.0.2.1:9"); err == nil {
		defer c.Close()
		if a, ok := c.LocalAddr().(*net.UDPAddr); ok && !a.IP.IsLoopback() && !a.IP.IsUnspecified() {
			return net.JoinHostPort(a.IP.String(), tasterPort), ""
		}
	}
	addrs, err := net.InterfaceAddrs()
	if err == nil {
		for _, a := range addrs {
			if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && n.IP.IsPrivate() {
				return net.JoinHostPort(n.IP.String(), tasterPort), ""
			}
		}
	}
	return net.JoinHostPort("127.0.0.1", tasterPort),
		"This laptop is on no network, so phones can't reach it. Join the Wi-Fi that the phones use, then start oddcup again."
}

// addressesOf are the hosts by which a listener can be reached: the one that it
// is bound to, or all of this laptop's where it is bound to none in particular.
func addressesOf(bound net.Addr) []string {
	host := hostOf(bound.String())
	if ip := net.ParseIP(host); ip == nil || !ip.IsUnspecified() {
		return []string{host}
	}
	hosts := []string{"localhost"}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return append(hosts, "127.0.0.1")
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok {
			hosts = append(hosts, n.IP.String())
		}
	}
	return hosts
}

var hostName = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?$`)

// isHostName reports whether phones can be sent to a name: a DNS name or an
// address, without scheme and port.
func isHostName(name string) bool { return hostName.MatchString(name) || net.ParseIP(name) != nil }

func hostOf(address string) string {
	h, _, err := net.SplitHostPort(address)
	if err != nil {
		return address
	}
	return h
}

func portOf(address string) string {
	_, p, err := net.SplitHostPort(address)
	if err != nil {
		return ""
	}
	return p
}

func isLoopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// terminalQR draws a QR code of half blocks, dark on light whatever the
// terminal's colours, with the quiet zone of four modules.
func terminalQR(text string) (string, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("qr code of %s: %w", text, err)
	}
	const quiet = 4
	dark := func(x, y int) bool { return code.Black(x-quiet, y-quiet) }
	var b strings.Builder
	size := code.Size + 2*quiet
	for y := 0; y < size; y += 2 {
		b.WriteString("\x1b[30;107m")
		for x := range size {
			switch top, low := dark(x, y), y+1 < size && dark(x, y+1); {
			case top && low:
				b.WriteString("█")
			case top:
				b.WriteString("▀")
			case low:
				b.WriteString("▄")
			default:
				b.WriteString(" ")
			}
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String(), nil
}
