using System.Runtime.InteropServices;

namespace Traceability.Service.Operations;

/// <summary>Replaces small files so that a power cut leaves either the old content or the new one, and the new one once it was answered.</summary>
public static class DurableFile
{
    /// <summary>Name under which the new content is written before it takes the place of the old.</summary>
    public static string Next(string path) => path + ".next";

    /// <summary>
    /// Writes beside the file, flushes, renames, and flushes the folder: until that is done a power cut can take the rename
    /// back, however well the content was flushed.
    /// </summary>
    /// <param name="write">Writes the content.</param>
    /// <param name="mode">Who may read and write it; null for what the process makes.</param>
    public static void Write(string path, Action<Stream> write, UnixFileMode? mode = null)
    {
        path = Path.GetFullPath(path);
        MakeFolder(Path.GetDirectoryName(path)!);
        var options = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write };
        if (mode is not null && !OperatingSystem.IsWindows()) options.UnixCreateMode = mode;
        using (var file = new FileStream(Next(path), options))
        {
            write(file);
            file.Flush(flushToDisk: true);
        }

        File.Move(Next(path), path, overwrite: true);
        FlushFolder(Path.GetDirectoryName(path)!);
    }

    /// <summary>Makes a folder and whatever lies above it, each kept in the folder it stands in.</summary>
    private static void MakeFolder(string folder)
    {
        if (Directory.Exists(folder)) return;
        var above = Path.GetDirectoryName(folder);
        if (above is not null) MakeFolder(above);
        Directory.CreateDirectory(folder);
        if (above is not null) FlushFolder(above);
    }

    /// <summary>Has the names in a folder written to the disk. The runtime opens no folders, so the system is asked itself.</summary>
    /// <exception cref="IOException">The system could not.</exception>
    public static void FlushFolder(string folder)
    {
        // NTFS writes its journal of names by itself and has no such call.
        if (OperatingSystem.IsWindows()) return;
        var handle = Open(folder, 0);
        if (handle < 0) throw new IOException($"The folder {folder} cannot be opened to be flushed: {Marshal.GetLastPInvokeErrorMessage()}.");
        try
        {
            // Some file systems know no flush of a folder and say so (EINVAL); there is nothing more to ask of them.
            const int invalid = 22;
            if (Flush(handle) < 0 && Marshal.GetLastPInvokeError() != invalid)
                throw new IOException($"The folder {folder} cannot be flushed: {Marshal.GetLastPInvokeErrorMessage()}.");
        }
        finally
        {
            _ = Close(handle);
        }
    }

    [DllImport("libc", EntryPoint = "open", SetLastError = true)]
    private static extern int Open([MarshalAs(UnmanagedType.LPUTF8Str)] string path, int flags);

    [DllImport("libc", EntryPoint = "fsync", SetLastError = true)]
    private static extern int Flush(int handle);

    [DllImport("libc", EntryPoint = "close", SetLastError = true)]
    private static extern int Close(int handle);
}
