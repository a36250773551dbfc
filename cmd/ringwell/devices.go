package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"strings"
	"text/tabwriter"
	"time"

	"ringwell/webview/share"
)

type devicesCommand struct {
	Remove string `env:"-" placeholder:"ID" help:"End the pairing of this device, by its ID or its whole name. A ringwell that runs cuts it off at once."`
	JSON   bool   `name:"json" env:"-" help:"As a JSON list."`
	Page   string `default:"${page}" placeholder:"HOST:PORT" help:"Where the page of a ringwell that runs is. (${default})"`
}

// Run lists the devices, or removes one.
func (c *devicesCommand) Run(ctx context.Context, std stdio) error {
	book, notice, err := share.OpenBook(devicesPath(), time.Now)
	if err != nil {
		return err
	}
	if notice != "" {
		fmt.Fprintln(std.err, "ringwell: "+clean(notice))
	}
	devices := book.Devices()
	if c.Remove != "" {
		d, err := named(devices, c.Remove)
		if err != nil {
			return err
		}
		if err := c.remove(ctx, book, d.ID); err != nil {
			return err
		}
		_, err = fmt.Fprintf(std.out, "%s is no longer paired.\n", clean(d.Name))
		return err
	}
	if c.JSON {
		return json.NewEncoder(std.out).Encode(devices)
	}
	if len(devices) == 0 {
		_, err := fmt.Fprintln(std.out, "No device is paired. Start ringwell with --share, and scan the code it shows.")
		return err
	}
	table := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "ID\tNAME\tPAIRED\tLAST SEEN")
	for _, d := range devices {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", d.ID, clean(d.Name), day(d.Paired), day(d.Seen))
	}
	return table.Flush()
}

func day(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// named finds a device by its ID or its name, which must then be one only.
func named(devices []share.Device, word string) (share.Device, error) {
	var found []share.Device
	for _, d := range devices {
		if d.ID == word {
			return d, nil
		}
		if d.Name == word {
			found = append(found, d)
		}
	}
	switch len(found) {
	case 0:
		return share.Device{}, fmt.Errorf("no device %q is paired; ringwell devices lists those that are", word)
	case 1:
		return found[0], nil
	}
	return share.Device{}, fmt.Errorf("%d devices are called %q; give the ID of one", len(found), word)
}

// remove asks the ringwell that runs, so that it cuts the device off; where
// none runs the list is changed here.
func (c *devicesCommand) remove(ctx context.Context, book *share.Book, id string) error {
	ctx, done := context.WithTimeout(ctx, 5*time.Second)
	defer done()
	var given struct {
		Token string `json:"token"`
	}
	_, err := c.ask(ctx, http.MethodGet, "/api/token", "", &given)
	var nobody *net.OpError
	if errors.As(err, &nobody) && nobody.Op == "dial" {
		if err := book.Revoke(id); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	}
	if err != nil {
		return fmt.Errorf("ask the ringwell at %s to remove the device: %w", c.Page, err)
	}
	status, err := c.ask(ctx, http.MethodDelete, "/api/devices/"+id, given.Token, nil)
	switch {
	case err != nil:
		return fmt.Errorf("ask the ringwell at %s to remove the device: %w", c.Page, err)
	case status == http.StatusNotFound: // it keeps another list than this one
		return fmt.Errorf("the ringwell at %s knows no such device; if another one shares the page, name its address with --page", c.Page)
	}
	return nil
}

// ask sends a request to the page's server and reads its answer into v, unless
// that is nil. A refusal other than 404 is an error in its own words.
func (c *devicesCommand) ask(ctx context.Context, method, path, token string, v any) (status int, err error) {
	req, err := http.NewRequestWithContext(ctx, method, "http://"+c.Page+path, nil)
	if err != nil {
		return 0, err
	}
	req.Header.Set("X-Ringwell-Token", token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, 1<<20))
	if err != nil {
		return 0, err
	}
	if resp.StatusCode >= 400 && resp.StatusCode != http.StatusNotFound {
		var said struct{ Error struct{ Words string } }
		if json.Unmarshal(body, &said) == nil && said.Error.Words != "" {
			return resp.StatusCode, errors.New(strings.TrimSuffix(said.Error.Words, "."))
		}
		return resp.StatusCode, errors.New(resp.Status)
	}
	if v != nil {
		err = json.Unmarshal(body, v)
	}
	return resp.StatusCode, err
}
