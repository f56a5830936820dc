using System.Diagnostics;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Traceability.Core.Tests.Supply;

/// <summary>What the programs are made of, as <c>ops/sbom</c> writes it for whoever asks.</summary>
public sealed class SbomTests
{
    [Fact]
    public void Each_program_names_its_runtime_and_every_package_of_its_lock_file_with_version_license_and_hash()
    {
        var folder = Directory.CreateTempSubdirectory("sbom").FullName;
        try
        {
            Write(folder);
            foreach (var (project, program, runtime) in new[]
            {
                ("Service", "traceability", new[] { "Microsoft.AspNetCore.App.Runtime.linux-x64", "Microsoft.NETCore.App.Runtime.linux-x64" }),
                ("Kiosk", "kiosk", ["Microsoft.NETCore.App.Runtime.Mono.browser-wasm"]),
                ("Verifier", "traceability-verify", ["Microsoft.NETCore.App.Runtime.linux-x64"]),
            })
            {
                using var bill = JsonDocument.Parse(File.ReadAllText(Path.Combine(folder, program + ".cdx.json")));
                Assert.Equal("CycloneDX", bill.RootElement.GetProperty("bomFormat").GetString());
                Assert.Equal("1.6", bill.RootElement.GetProperty("specVersion").GetString());
                Assert.Equal(program, bill.RootElement.GetProperty("metadata").GetProperty("component").GetProperty("name").GetString());
                var named = bill.RootElement.GetProperty("components").EnumerateArray().ToDictionary(c => c.GetProperty("purl").GetString()!, StringComparer.Ordinal);
                var locked = Package.Locked($"src/Traceability.{project}/Traceability.{project}.csproj");
                Assert.Equal(locked.Select(p => $"pkg:nuget/{p.Name}@{p.Version}").Concat(runtime.Select(r => $"pkg:nuget/{r}@{ImageRuntime}")).Order(StringComparer.Ordinal), named.Keys.Order(StringComparer.Ordinal));
                foreach (var package in locked)
                {
                    var component = named[$"pkg:nuget/{package.Name}@{package.Version}"];
                    Assert.Equal(package.Version, component.GetProperty("version").GetString());
                    Assert.Equal((package.Name, License.Of(package)), (package.Name, Licensed(component)));
                    // NuGet keeps the SHA-512 of the file that it fetched beside it.
                    var fetched = File.ReadAllText(package.Find($"{package.Name.ToLowerInvariant()}.{package.Version.ToLowerInvariant()}.nupkg.sha512")!);
                    var hash = component.GetProperty("hashes").EnumerateArray().Single(h => h.GetProperty("alg").GetString() == "SHA-512").GetProperty("content").GetString();
                    Assert.Equal((package.Name, Convert.ToHexString(Convert.FromBase64String(fetched))), (package.Name, hash));
                }
            }
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    // The runtime of the images, as ops/Dockerfile and the compose file name it.
    private static string ImageRuntime => Assert.Single(new[] { Repository.Path("ops", "Dockerfile"), Repository.Path("docker-compose.yml") }
        .SelectMany(f => Regex.Matches(File.ReadAllText(f), @"dotnet/aspnet:(\d+\.\d+\.\d+)").Select(m => m.Groups[1].Value)).Distinct());

    private static string Licensed(JsonElement component) => string.Join(" OR ", component.GetProperty("licenses").EnumerateArray()
        .Select(l => l.TryGetProperty("expression", out var expression) ? expression.GetString() : l.GetProperty("license").GetProperty("id").GetString()));

    private static void Write(string folder)
    {
        using var made = Process.Start(new ProcessStartInfo(Repository.Path("ops", "sbom"), [folder]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        var error = made.StandardError.ReadToEndAsync();
        made.StandardOutput.ReadToEnd();
        made.WaitForExit();
        Assert.True(made.ExitCode == 0, error.Result);
    }
}
