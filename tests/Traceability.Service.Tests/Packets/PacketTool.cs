using System.Diagnostics;
using Traceability.Service.Packets;

namespace Traceability.Service.Tests.Packets;

/// <summary>A packet laid out in a folder, for tools that are not ours.</summary>
internal sealed class PacketFolder : IDisposable
{
    public PacketFolder(Packet packet)
    {
        foreach (var file in packet.Files) File.WriteAllBytes(System.IO.Path.Combine(Path, file.Name), file.Bytes);
    }

    public string Path { get; } = Directory.CreateTempSubdirectory("packet-").FullName;

    public void Dispose() => Directory.Delete(Path, recursive: true);

    /// <summary>Runs a tool in the folder. A tool that is not installed fails the test and says so.</summary>
    public (int Exit, string Output) Run(string tool, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(tool, arguments)
        {
            WorkingDirectory = Path,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        })!;
        var error = process.StandardError.ReadToEndAsync();
        var output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return (process.ExitCode, output + error.Result);
    }

    public string Good(string tool, params string[] arguments)
    {
        var (exit, output) = Run(tool, arguments);
        Assert.True(exit == 0, $"{tool} {string.Join(' ', arguments)} ended with {exit}: {output}");
        return output;
    }

    /// <summary>The text of each page as pdftotext reads it.</summary>
    public IReadOnlyList<string> Pages() => Good("pdftotext", "-layout", Packet.Pdf, "-").TrimEnd('\f').Split('\f');
}
