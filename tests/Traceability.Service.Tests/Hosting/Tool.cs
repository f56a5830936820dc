using System.ComponentModel;
using System.Diagnostics;

namespace Traceability.Service.Tests.Hosting;

/// <summary>Runs programs that are not ours, as an outside user would.</summary>
internal static class Tool
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(2);

    /// <summary>Runs a program to its end. One that is not installed, or does not end, fails the test and says so.</summary>
    public static async Task<(int Exit, string Out, string Error)> RunAsync(string program, string folder, IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        // Nothing here leaves the machine, whatever proxy the machine has for what does.
        var start = new ProcessStartInfo(program, arguments) { WorkingDirectory = folder, RedirectStandardOutput = true, RedirectStandardError = true, Environment = { ["no_proxy"] = "127.0.0.1" } };
        foreach (var (name, value) in environment) start.Environment[name] = value;
        using var process = Start(start);
        using var limit = new CancellationTokenSource(Patience);
        var (output, error) = (process.StandardOutput.ReadToEndAsync(CancellationToken.None), process.StandardError.ReadToEndAsync(CancellationToken.None));
        try
        {
            await process.WaitForExitAsync(limit.Token);
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            Assert.Fail($"{program} did not end within {Patience.TotalSeconds:0} s: {await output} {await error}");
        }

        return (process.ExitCode, await output, await error);
    }

    private static Process Start(ProcessStartInfo start)
    {
        try
        {
            return Process.Start(start)!;
        }
        catch (Win32Exception e)
        {
            throw new InvalidOperationException($"{start.FileName} is needed by this test and cannot be started ({e.Message}). Install it: ops/test --prepare service does so, or says what to install.", e);
        }
    }
}
