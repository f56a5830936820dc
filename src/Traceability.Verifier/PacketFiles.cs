using System.Security.Cryptography;
using System.Text.Json;

namespace Traceability.Verifier;

/// <summary>What was given is not a packet that can be read, or is made so that two readers could see two things in it.</summary>
internal sealed class PacketFormException(string message) : Exception(message);

/// <summary>One file of a packet, hashed once as it was found. Whoever reads it again is given the same bytes or an error.</summary>
internal sealed class PacketFile
{
    private readonly Func<Stream> _open;

    internal PacketFile(string name, long size, string sha256, Func<Stream> open)
    {
        (Name, Size, Sha256, _open) = (name, size, sha256, open);
    }

    internal string Name { get; }

    internal long Size { get; }

    /// <summary>Lower-case hex.</summary>
    internal string Sha256 { get; }

    /// <summary>Reads the file through; what came is held against the first reading at its end.</summary>
    /// <exception cref="PacketFormException">It is not what it was.</exception>
    internal void Read(Action<Stream> read)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using var stream = new HashedStream(_open(), hash);
        try
        {
            read(stream);
        }
        catch (EndOfStreamException)
        {
            throw new PacketFormException($"{Name} changed while it was checked.");
        }

        stream.Drain();
        if (Convert.ToHexStringLower(hash.GetHashAndReset()) != Sha256)
        {
            throw new PacketFormException($"{Name} changed while it was checked.");
        }
    }

    /// <summary>The whole file in memory.</summary>
    /// <param name="most">Bytes it may have.</param>
    /// <exception cref="PacketFormException">It is larger, or not what it was.</exception>
    internal byte[] Bytes(long most)
    {
        if (Size > most)
        {
            throw new PacketFormException($"{Name} has {Size} bytes; no packet has more than {most} there.");
        }

        var bytes = new byte[Size];
        Read(stream => stream.ReadExactly(bytes));
        return bytes;
    }

    private sealed class HashedStream(Stream inner, IncrementalHash hash) : ReadOnlyStream
    {
        public override int Read(Span<byte> buffer)
        {
            var read = inner.Read(buffer);
            hash.AppendData(buffer[..read]);
            return read;
        }

        internal void Drain()
        {
            var buffer = new byte[65_536];
            while (Read(buffer) > 0)
            {
            }
        }

        protected override void Dispose(bool disposing)
        {
            if (disposing)
            {
                inner.Dispose();
            }

            base.Dispose(disposing);
        }
    }
}

/// <summary>A stream that is only read, forward.</summary>
internal abstract class ReadOnlyStream : Stream
{
    public override bool CanRead => true;

    public override bool CanSeek => false;

    public override bool CanWrite => false;

    public override long Length => throw new NotSupportedException();

    public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }

    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    public abstract override int Read(Span<byte> buffer);

    public override void Flush()
    {
    }

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
}

/// <summary>The files of a packet, zip file or folder. Large ones are only ever streamed, so that a small zip cannot fill the machine.</summary>
internal sealed class PacketFiles : IDisposable
{
    /// <summary>What the files of a packet may have together. Our own choice: far above any packet, and read through in seconds.</summary>
    internal const long LargestBytes = 1L << 30;

    /// <summary>Files beyond these are not looked at one by one.</summary>
    internal const int MostFiles = 2000;

    private readonly ZipFile? _zip;

    private PacketFiles(ZipFile? zip) => _zip = zip;

    internal SortedDictionary<string, PacketFile> Found { get; } = new(StringComparer.Ordinal);

    /// <summary>Names of what is there and no file of a packet could be called. They are not read.</summary>
    internal SortedSet<string> Strange { get; } = new(StringComparer.Ordinal);

    /// <summary>Opens a packet and hashes each file that a packet can have.</summary>
    /// <exception cref="PacketFormException">It cannot be read as one packet, in one way.</exception>
    /// <exception cref="IOException">The file or folder is not there or cannot be read.</exception>
    internal static PacketFiles Open(string path)
    {
        if (Directory.Exists(path))
        {
            var folder = new PacketFiles(null);
            folder.AddFolder(path);
            return folder;
        }

        var zip = new ZipFile(path);
        var files = new PacketFiles(zip);
        try
        {
            files.AddZip(zip);
        }
        catch
        {
            files.Dispose();
            throw;
        }

        return files;
    }

    public void Dispose() => _zip?.Dispose();

    /// <summary>Whether a file of a packet can be called so: plain names, no folders, nothing that a system could take for a path.</summary>
    internal static bool IsName(string name) =>
        name.Length is > 0 and <= 60 && char.IsAsciiLetter(name[0]) && name.All(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '-') && !name.Contains("..", StringComparison.Ordinal);

    private void AddFolder(string path)
    {
        long total = 0;
        foreach (var entry in new DirectoryInfo(path).EnumerateFileSystemInfos())
        {
            if (Found.Count + Strange.Count >= MostFiles)
            {
                throw new PacketFormException($"{path} holds more than {MostFiles} files; that is no packet.");
            }

            if (entry.LinkTarget is not null)
            {
                throw new PacketFormException($"{entry.Name} is a link to another place. A packet holds its files themselves.");
            }

            if (entry is DirectoryInfo || !IsName(entry.Name))
            {
                Strange.Add(entry.Name);
                continue;
            }

            Add(entry.Name, () => new FileStream(entry.FullName, FileMode.Open, FileAccess.Read, FileShare.Read), ref total, path);
        }
    }

    private void AddZip(ZipFile zip)
    {
        var entries = zip.Entries;
        // Zipped as a folder: everything stands under one plain name.
        var first = entries.Count > 0 ? entries[0].Name.Split('/')[0] : "";
        var folder = IsFolder(first) && entries.All(e => e.Name.StartsWith(first + "/", StringComparison.Ordinal)) ? first + "/" : "";
        long total = 0;
        foreach (var entry in entries)
        {
            var name = entry.Name[folder.Length..];
            if (name.Length == 0)
            {
                // The folder itself.
                if (entry.Size > 0 || entry.Packed > 0)
                {
                    throw new PacketFormException($"The zip file's entry {entry.Name} is a folder and has content.");
                }

                continue;
            }

            if (Path.IsPathRooted(name) || name.Contains('\\') || name.Contains(':') || name.Split('/').Contains(".."))
            {
                throw new PacketFormException($"The zip file's entry {entry.Name} would be unpacked outside its folder.");
            }

            if (!IsName(name))
            {
                Strange.Add(name);
                continue;
            }

            Add(name, () => zip.Open(entry), ref total, zip.Path);
        }
    }

    private static bool IsFolder(string name) =>
        name.Length is > 0 and <= 100 && char.IsAsciiLetterOrDigit(name[0]) && name.All(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '-' or '_' or ' ');

    private void Add(string name, Func<Stream> open, ref long total, string path)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using var stream = open();
        var buffer = new byte[65_536];
        long size = 0;
        int read;
        while ((read = stream.Read(buffer)) > 0)
        {
            size += read;
            total += read;
            if (total > LargestBytes)
            {
                throw new PacketFormException($"{path} holds more than {LargestBytes} bytes; that is no packet.");
            }

            hash.AppendData(buffer.AsSpan(0, read));
        }

        if (!Found.TryAdd(name, new PacketFile(name, size, Convert.ToHexStringLower(hash.GetHashAndReset()), open)))
        {
            throw new PacketFormException($"{path} holds {name} twice; which of them was meant cannot be told.");
        }
    }

    /// <summary>Writes the files as they were checked into a folder that is not there yet, or is empty.</summary>
    /// <exception cref="IOException">The folder holds something, or cannot be written.</exception>
    /// <exception cref="PacketFormException">A file is not what it was when it was checked.</exception>
    internal void Extract(string folder)
    {
        folder = Path.GetFullPath(folder);
        if (File.Exists(folder) || (Directory.Exists(folder) && Directory.EnumerateFileSystemEntries(folder).Any()))
        {
            throw new IOException($"{folder} is there and not empty. Name a folder that is not there yet.");
        }

        var part = folder + ".part";
        if (Directory.Exists(part))
        {
            throw new IOException($"{part} is left from an earlier call. Remove it first.");
        }

        Directory.CreateDirectory(part);
        try
        {
            foreach (var file in Found.Values)
            {
                file.Read(from =>
                {
                    using var to = new FileStream(Path.Combine(part, file.Name), FileMode.CreateNew, FileAccess.Write);
                    from.CopyTo(to);
                });
            }

            if (Directory.Exists(folder))
            {
                Directory.Delete(folder);
            }

            Directory.Move(part, folder);
        }
        catch
        {
            Directory.Delete(part, recursive: true);
            throw;
        }
    }
}
