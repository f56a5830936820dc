using System.IO.Compression;

namespace Traceability.Verifier;

/// <summary>The files of a packet, read once: what is checked is what was read.</summary>
internal static class PacketFiles
{
    /// <summary>A packet larger than this is not read, so that a small zip cannot fill the machine.</summary>
    private const long LargestBytes = 1L << 30;

    /// <exception cref="InvalidDataException">Neither a folder nor a zip file; or names a file twice, or too large.</exception>
    internal static SortedDictionary<string, byte[]> Open(string path)
    {
        var files = new SortedDictionary<string, byte[]>(StringComparer.Ordinal);
        long total = 0;
        if (Directory.Exists(path))
        {
            foreach (var file in Directory.EnumerateFiles(path, "*", SearchOption.AllDirectories))
            {
                using var stream = File.OpenRead(file);
                files.Add(Path.GetRelativePath(path, file).Replace('\\', '/'), ReadAll(stream, ref total, path));
            }

            return files;
        }

        using var zip = ZipFile.OpenRead(path);
        foreach (var entry in zip.Entries.Where(e => !e.FullName.EndsWith('/')))
        {
            using var stream = entry.Open();
            if (!files.TryAdd(entry.FullName, ReadAll(stream, ref total, path)))
            {
                throw new InvalidDataException($"{path} holds {entry.FullName} twice; which of them was meant cannot be told.");
            }
        }

        // Zipped as a folder: everything stands under one name.
        var folder = files.Count > 0 ? files.Keys.First().Split('/')[0] + "/" : "";
        return files.Count > 0 && files.Keys.All(n => n.StartsWith(folder, StringComparison.Ordinal))
            ? new SortedDictionary<string, byte[]>(files.ToDictionary(f => f.Key[folder.Length..], f => f.Value), StringComparer.Ordinal)
            : files;
    }

    private static byte[] ReadAll(Stream stream, ref long total, string path)
    {
        using var bytes = new MemoryStream();
        var buffer = new byte[65_536];
        int read;
        while ((read = stream.Read(buffer)) > 0)
        {
            total += read;
            if (total > LargestBytes)
            {
                throw new InvalidDataException($"{path} holds more than {LargestBytes} bytes; that is no packet.");
            }

            bytes.Write(buffer, 0, read);
        }

        return bytes.ToArray();
    }
}
