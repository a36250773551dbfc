package main

import (
	"errors"
	"fmt"
	"net"
	"strconv"
	"syscall"
)

// defaultPage is where the page is served unless told otherwise.
const defaultPage = "127.0.0.1:7341"

// listenPage takes the page's address, which must be one only this machine can
// reach. Its errors say what to do.
func listenPage(address string) (net.Listener, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("--page %s: write it as host and port, as in %s", address, defaultPage)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, fmt.Errorf("--page %s: only this machine may reach the page; take 127.0.0.1:%s", address, port)
	}
	l, err := net.Listen("tcp", address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("the page's address %s is taken. If another ringwell runs, open http://%s/ or end it first; otherwise choose another: --page %s",
			address, address, net.JoinHostPort(host, another(port)))
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("the page's port %s is for the system's own services: choose one above 1023, as in --page %s", port, defaultPage)
	case err != nil:
		return nil, fmt.Errorf("--page %s: %w", address, err)
	}
	return l, nil
}

// another is the port after this one, or 0, any free one.
func another(port string) string {
	if n, err := strconv.Atoi(port); err == nil && n < 65535 {
		return strconv.Itoa(n + 1)
	}
	return "0"
}
