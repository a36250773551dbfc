package share

import (
	"fmt"
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
)

// Address is a shared address of this machine and the network it lies in,
// which the authority may speak for.
type Address struct {
	IP      netip.Addr
	Network netip.Prefix
}

// The widest network an authority is made for: a home's usual ones. In a wider
// one it is made for the part around the address.
const widest4, widest6 = 24, 64

// addressOf narrows a network. An address the whole world can reach is shared
// by itself: around it are other people's machines.
func addressOf(p netip.Prefix) Address {
	ip := p.Addr().Unmap().WithZone("")
	bits, all := max(p.Bits(), widest4), 32
	if ip.Is6() {
		bits, all = max(p.Bits(), widest6), 128
	}
	if !private(ip) {
		bits = all
	}
	return Address{ip, netip.PrefixFrom(ip, bits).Masked()}
}

// Doubt says why an address may not be the one that was meant, as a sentence:
// everybody can reach it, or nobody. "" for one of a local network.
func Doubt(ip netip.Addr) string {
	switch ip = ip.Unmap(); {
	case ip.IsLoopback():
		return ip.String() + " can be reached from this computer only."
	case !private(ip):
		return ip.String() + " is no address of a local network: people elsewhere may reach the page there, and guess at its codes. Share it at a local address unless you mean that."
	}
	return ""
}

// private reports whether an address belongs to a local network: RFC 1918,
// RFC 4193 and link-local.
func private(ip netip.Addr) bool { return ip.IsPrivate() || ip.IsLinkLocalUnicast() }

// own lists the addresses of this machine's interfaces that are up.
func own() ([]netip.Prefix, error) {
	interfaces, err := net.Interfaces()
	if err != nil {
		return nil, fmt.Errorf("share: list the network's interfaces: %w", err)
	}
	var all []netip.Prefix
	for _, i := range interfaces {
		if i.Flags&net.FlagUp == 0 {
			continue
		}
		addresses, err := i.Addrs()
		if err != nil {
			continue // it went just now
		}
		for _, a := range addresses {
			if p, err := netip.ParsePrefix(a.String()); err == nil {
				all = append(all, p)
			}
		}
	}
	return all, nil
}

// Find returns what to share when nobody has said it: the local address from
// which this machine reaches other networks, or where there is none (it is a
// hotspot itself, say) every private IPv4 address it has. None is no error.
func Find() ([]Address, error) {
	all, err := own()
	if err != nil {
		return nil, err
	}
	return chosen(all, outward()), nil
}

func chosen(all []netip.Prefix, outward netip.Addr) []Address {
	var addresses []Address
	for _, p := range all {
		switch a := addressOf(p); {
		case !private(a.IP):
		case a.IP == outward:
			return []Address{a}
		case a.IP.Is4():
			addresses = append(addresses, a)
		}
	}
	slices.SortFunc(addresses, func(a, b Address) int { return a.IP.Compare(b.IP) })
	return addresses
}

// outward is the address packets to other networks leave from. Connecting a
// datagram socket sends nothing; the address is one for documentation (RFC
// 5737), which leads nowhere.
func outward() netip.Addr {
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return netip.Addr{}
	}
	defer c.Close()
	return c.LocalAddr().(*net.UDPAddr).AddrPort().Addr().Unmap()
}

// Only returns how to find one address that was asked for. It gives none while
// no interface has it.
func Only(ip netip.Addr) func() ([]Address, error) {
	return func() ([]Address, error) {
		all, err := own()
		if err != nil {
			return nil, err
		}
		for _, p := range all {
			if a := addressOf(p); a.IP == ip.Unmap() {
				return []Address{a}, nil
			}
		}
		return nil, nil
	}
}

// Names returns the names this machine goes by in the local network: its host
// name and that with .local (RFC 6762), in lower case. A host name that no
// browser could ask for gives none.
func Names() []string {
	host, err := os.Hostname()
	if err != nil {
		return nil
	}
	return names(host)
}

func names(host string) []string {
	label, _, _ := strings.Cut(strings.ToLower(host), ".")
	ok := label != "" && len(label) <= 63 && label != "localhost" && label[0] != '-' && label[len(label)-1] != '-' &&
		strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
	if !ok || strings.Trim(label, "0123456789") == "" { // digits alone are read as an address
		return nil
	}
	return []string{label, label + ".local"}
}
