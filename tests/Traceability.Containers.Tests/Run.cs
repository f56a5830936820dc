using System.Diagnostics;
using System.Net;
using System.Net.Sockets;

namespace Traceability.Containers.Tests;

/// <summary>Programs that the tests run, and ports for them.</summary>
internal static class Run
{
    /// <summary>Runs a program to its end and gives its exit code with all it said.</summary>
    public static async Task<(int Code, string Said)> ToEndAsync(string program, IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        using var process = Process.Start(Info(program, environment, arguments))!;
        var said = await Task.WhenAll(process.StandardOutput.ReadToEndAsync(), process.StandardError.ReadToEndAsync());
        await process.WaitForExitAsync();
        return (process.ExitCode, string.Concat(said));
    }

    public static ProcessStartInfo Info(string program, IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        var start = new ProcessStartInfo(program, arguments)
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            WorkingDirectory = TestServers.Servers.Root,
        };
        foreach (var (name, value) in environment) start.Environment[name] = value;
        return start;
    }

    /// <summary>A loopback port that is free now.</summary>
    public static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
