package sqlite

import "syscall"

// kinds of file system that may be another machine's, by their magic numbers
// (Linux, statfs(2) and include/uapi/linux/magic.h).
var kinds = map[uint32]string{
	0x6969: "NFS", 0x517B: "SMB", 0xFF534D42: "CIFS", 0xFE534D42: "SMB2", 0x5346414F: "AFS", 0x73757245: "Coda",
	0x00C36400: "Ceph", 0x01021997: "9P", 0x65735546: "FUSE",
}

// remote names the kind of file system of a folder where it may be another
// machine's; empty otherwise, and where it cannot be told.
func remote(dir string) string {
	var at syscall.Statfs_t
	if syscall.Statfs(dir, &at) != nil {
		return ""
	}
	return kinds[uint32(at.Type)]
}
