package sqlite

import (
	"os"
	"strings"
	"testing"
)

// The kernel itself lists what is mounted where, and as what: the magic numbers
// agree with its names wherever one of these kinds is mounted here, and a disk of
// this machine is none of them.
func TestFileSystemsAreToldAsTheKernelNamesThem(t *testing.T) {
	table, err := os.ReadFile("/proc/self/mounts")
	if err != nil {
		t.Skip("there is no list of mounts here:", err)
	}
	local := map[string]bool{"ext4": true, "ext3": true, "xfs": true, "btrfs": true, "tmpfs": true, "overlay": true, "proc": true, "sysfs": true}
	names := map[string]string{"nfs": "NFS", "nfs4": "NFS", "cifs": "CIFS", "9p": "9P", "ceph": "Ceph"}
	seen := 0
	for _, line := range strings.Split(string(table), "\n") {
		f := strings.Fields(line)
		if len(f) < 3 {
			continue
		}
		got := remote(f[1])
		switch {
		case local[f[2]]:
			seen++
			if got != "" {
				t.Errorf("%s is %s and is called %s", f[1], f[2], got)
			}
		case names[f[2]] != "":
			seen++
			if got != names[f[2]] && got != "" { // another may be mounted over it
				t.Errorf("%s is %s and is called %s", f[1], f[2], got)
			}
		}
	}
	if seen == 0 {
		t.Skip("no known file system is mounted here")
	}
}
