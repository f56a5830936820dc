using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Verifier.Witness;

/// <summary>
/// What a witness keeps: its key, the logs it watches, and of each the newest checkpoint that it cosigned. One process at a time works on
/// it; a checkpoint is on the disk before its cosignature leaves.
/// </summary>
internal sealed class WitnessFolder : IDisposable
{
    private readonly string _path;
    private readonly FileStream _lock;

    private WitnessFolder(string path, string name, CosignerKey key, FileStream held)
    {
        (_path, Name, Key, _lock) = (path, name, key, held);
    }

    internal string Name { get; }

    internal CosignerKey Key { get; }

    internal Cosigner Public => new(Name, Key.PublicKey);

    private static string KeyFile(string path) => Path.Combine(path, "witness-key.pem");

    private static string LineFile(string path) => Path.Combine(path, "witness.key-line");

    /// <summary>Makes a new witness.</summary>
    /// <exception cref="IOException">There is one already.</exception>
    internal static Cosigner Create(string path, string name)
    {
        Directory.CreateDirectory(path);
        if (File.Exists(KeyFile(path)))
        {
            throw new IOException($"{path} already holds a witness. Name another folder.");
        }

        var key = CosignerKey.Create();
        var line = new Cosigner(name, key.PublicKey);
        Write(LineFile(path), line.Line + "\n");
        Write(KeyFile(path), key.Pem(), owner: true);
        return line;
    }

    /// <exception cref="IOException">There is none, or another process works on it.</exception>
    internal static WitnessFolder Open(string path)
    {
        if (!File.Exists(KeyFile(path)))
        {
            throw new FileNotFoundException($"{path} holds no witness. Make one: traceability-verify witness new {path} --name NAME");
        }

        var key = CosignerKey.Read(KeyFile(path));
        var line = Cosigner.Read(LineFile(path));
        if (!line.Bytes.AsSpan().SequenceEqual(key.PublicKey))
        {
            throw new InvalidDataException($"{LineFile(path)} is not the public half of {KeyFile(path)}.");
        }

        FileStream held;
        try
        {
            held = new FileStream(Path.Combine(path, ".lock"), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
        }
        catch (IOException e)
        {
            throw new IOException($"Another process works on the witness in {path}. Stop it first.", e);
        }

        return new WitnessFolder(path, line.Name, key, held);
    }

    private string Folder(string origin) => Path.Combine(_path, "logs", OriginHash(origin));

    /// <summary>SHA-256 of a log's origin in hex, by which C2SP tlog-witness names it in addresses.</summary>
    internal static string OriginHash(string origin) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(origin)));

    /// <summary>Watches a log from now on.</summary>
    /// <param name="key">The log's key line; its name is the log's origin.</param>
    /// <param name="url">Where the log is read from when it is polled; null when it sends its checkpoints by itself.</param>
    /// <exception cref="InvalidDataException">Another key is on record for this log.</exception>
    internal void Watch(string key, string? url)
    {
        var log = PublicKey.Read(key);
        if (log.Name is null)
        {
            throw new FormatException("Give the log's key as its one line (name+hash+base64): a PEM file does not say which log it is of.");
        }

        var line = File.Exists(key) ? File.ReadAllText(key).Trim() : key.Trim();
        var folder = Folder(log.Name);
        if (Read(Path.Combine(folder, "key-line")) is { } known && known.Trim() != line)
        {
            throw new InvalidDataException($"{log.Name} is watched under another key. A log that goes on under a new key takes a new name; watch that.");
        }

        Directory.CreateDirectory(folder);
        Write(Path.Combine(folder, "key-line"), line + "\n");
        if (url is not null)
        {
            Write(Path.Combine(folder, "url"), url.TrimEnd('/') + "\n");
        }
    }

    /// <summary>The key of a watched log; null where it is not watched.</summary>
    internal PublicKey? LogKey(string origin) => Read(Path.Combine(Folder(origin), "key-line")) is { } line ? PublicKey.Read(line) : null;

    /// <summary>Watched logs, with where each is polled.</summary>
    internal IEnumerable<(string Origin, string? Url)> Logs() =>
        !Directory.Exists(Path.Combine(_path, "logs")) ? []
            : Directory.EnumerateDirectories(Path.Combine(_path, "logs")).Order(StringComparer.Ordinal)
                .Select(f => (PublicKey.Read(File.ReadAllText(Path.Combine(f, "key-line"))).Name!, Read(Path.Combine(f, "url"))?.Trim()));

    /// <summary>The newest checkpoint that was cosigned, with the log's and the witness's signatures; null before the first.</summary>
    internal string? Latest(string origin) => Read(Path.Combine(Folder(origin), "checkpoint"));

    /// <summary>The same by the hash of the origin, as it stands in an address.</summary>
    internal string? LatestByHash(string hash) => hash.Length == 64 && hash.All(char.IsAsciiHexDigitLower) ? Read(Path.Combine(_path, "logs", hash, "checkpoint")) : null;

    internal void Keep(string origin, string note) => Write(Path.Combine(Folder(origin), "checkpoint"), note);

    /// <summary>Keeps what contradicts: proof that a log showed two histories.</summary>
    internal void KeepContradiction(string origin, long time, string note) =>
        Write(Path.Combine(Folder(origin), $"contradiction-{time}"), note);

    public void Dispose() => _lock.Dispose();

    private static string? Read(string path) => File.Exists(path) ? File.ReadAllText(path) : null;

    // On the disk before it returns: the file, then its name in the folder.
    private static void Write(string path, string text, bool owner = false)
    {
        var next = path + ".next";
        var options = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write };
        if (owner && !OperatingSystem.IsWindows())
        {
            options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        }

        using (var file = new FileStream(next, options))
        {
            file.Write(Encoding.UTF8.GetBytes(text));
            file.Flush(flushToDisk: true);
        }

        File.Move(next, path, overwrite: true);
        Folders.Flush(Path.GetDirectoryName(Path.GetFullPath(path))!);
    }
}

/// <summary>Puts the names in a folder on the disk. Windows does so by itself when a file is moved.</summary>
internal static class Folders
{
    internal static void Flush(string path)
    {
        if (OperatingSystem.IsWindows())
        {
            return;
        }

        var folder = Open([.. Encoding.UTF8.GetBytes(path), 0], 0);
        if (folder < 0)
        {
            throw new IOException($"{path} cannot be opened to flush it (error {Marshal.GetLastPInvokeError()}).");
        }

        try
        {
            if (FSync(folder) != 0)
            {
                throw new IOException($"{path} cannot be flushed to the disk (error {Marshal.GetLastPInvokeError()}).");
            }
        }
        finally
        {
            _ = Close(folder);
        }
    }

    [DllImport("libc", EntryPoint = "open", SetLastError = true)]
    private static extern int Open(byte[] path, int flags);

    [DllImport("libc", EntryPoint = "fsync", SetLastError = true)]
    private static extern int FSync(int descriptor);

    [DllImport("libc", EntryPoint = "close", SetLastError = true)]
    private static extern int Close(int descriptor);
}
