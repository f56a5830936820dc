using System.Text;

namespace Traceability.Core.Tests;

/// <summary>Files of this repository that tests read, and generated documents that they keep from drifting.</summary>
internal static class Repository
{
    public static string Folder { get; } = Find();

    public static string Path(params string[] parts) => System.IO.Path.Combine([Folder, .. parts]);

    /// <summary>
    /// Compares a generated document with the file in the repository. TRACE_WRITE_DOCS=1 writes it instead, for the
    /// person who changed what it is generated from.
    /// </summary>
    public static void AssertGenerated(string text, params string[] parts)
    {
        var path = Path(parts);
        if (Environment.GetEnvironmentVariable("TRACE_WRITE_DOCS") == "1")
        {
            Directory.CreateDirectory(System.IO.Path.GetDirectoryName(path)!);
            File.WriteAllText(path, text, new UTF8Encoding(false));
        }

        Assert.True(File.Exists(path), $"{string.Join('/', parts)} is not there; run the tests once with TRACE_WRITE_DOCS=1");
        Assert.Equal(text, File.ReadAllText(path));
    }

    private static string Find()
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(System.IO.Path.Combine(folder, "Traceability.sln")))
            folder = System.IO.Path.GetDirectoryName(folder) ?? throw new InvalidOperationException("the tests do not run inside the repository");
        return folder;
    }
}
