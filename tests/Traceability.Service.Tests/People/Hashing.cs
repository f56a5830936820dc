using Traceability.Service.Operations;
using System.Diagnostics;
using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Org.BouncyCastle.Crypto.Digests;
using Org.BouncyCastle.Crypto.Generators;
using Org.BouncyCastle.Crypto.Parameters;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Xunit.Abstractions;

namespace Traceability.Service.Tests.People;

/// <summary>How secrets are kept, and which are taken.</summary>
public sealed class Hashing(ITestOutputHelper output) : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-secrets-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private Secrets With(string file, SecretCost? cost = null) =>
        new(new ConfigurationBuilder().AddInMemoryCollection([new("Secrets:KeyFile", Path.Combine(_folder, "keys", file))]).Build(), cost ?? SecretCost.Default);

    [Fact]
    public void A_hash_is_pbkdf2_over_the_hmac_with_the_key_of_the_file_as_another_library_computes_it()
    {
        var secrets = With("a");
        var clock = Stopwatch.StartNew();
        var hash = secrets.Hash("161803");
        output.WriteLine($"one hash: {clock.ElapsedMilliseconds} ms, the key made with it");
        clock.Restart();
        Assert.True(secrets.Fits(hash, "161803"));
        output.WriteLine($"one check: {clock.ElapsedMilliseconds} ms");
        var parts = hash.Split('$');
        Assert.Equal(["p1", "210000"], [parts[0], parts[2]]);
        var key = Convert.FromBase64String(File.ReadAllText(secrets.KeyFile).Trim());
        // RFC 2104 and RFC 8018 by a library that shares no code with the platform's.
        var mac = new Org.BouncyCastle.Crypto.Macs.HMac(new Sha256Digest());
        mac.Init(new KeyParameter(key));
        mac.BlockUpdate(Encoding.UTF8.GetBytes("161803"), 0, 6);
        var keyed = new byte[32];
        mac.DoFinal(keyed, 0);
        var generator = new Pkcs5S2ParametersGenerator(new Sha512Digest());
        generator.Init(keyed, Convert.FromBase64String(parts[3]), 210_000);
        Assert.Equal(parts[4], Convert.ToBase64String(((KeyParameter)generator.GenerateDerivedMacParameters(256)).GetKey()));
        if (!OperatingSystem.IsWindows()) Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(secrets.KeyFile));
    }

    [Fact]
    public void Without_the_key_file_no_secret_fits_and_with_both_keys_old_and_new_ones_do()
    {
        var cheap = new SecretCost(1000);
        var old = With("old", cheap);
        var hash = old.Hash("161803");
        var other = With("other", cheap);
        Assert.False(other.Fits(hash, "161803"));
        Assert.True(other.KeyIsLost(hash));
        Assert.False(old.Fits("", ""));
        Assert.False(old.Fits(null, "161803"));
        _ = other.Hash("x");
        File.WriteAllText(Path.Combine(_folder, "keys", "both"), File.ReadAllText(other.KeyFile) + File.ReadAllText(old.KeyFile));
        var both = With("both", cheap);
        Assert.True(both.Fits(hash, "161803"));
        Assert.True(both.IsOld(hash));
        Assert.False(both.IsOld(both.Hash("161803")));
        File.WriteAllText(Path.Combine(_folder, "keys", "torn"), "AAAA\n");
        Assert.Throws<SettingException>(() => With("torn").Hash("1"));
    }

    [Fact]
    public async Task A_hash_of_the_former_form_still_fits_and_is_made_anew_at_its_next_use()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var register = host.Services.GetRequiredService<Register>();
        var former = new PasswordHasher<Person>();
        await register.SaveAsync([register.Person(Plant.Inspector.Id)! with { PinHash = former.HashPassword(null!, "161803"), PasswordHash = former.HashPassword(null!, "a former password") }], CancellationToken.None);
        var signing = host.Services.GetRequiredService<Signing>();
        Assert.NotNull(signing.Pin(Plant.Inspector.Id, "161804").Problem);
        Assert.Null(signing.Pin(Plant.Inspector.Id, "161803").Problem);
        Assert.Null(signing.Password(Plant.Inspector.Id, "a former password").Problem);
        Assert.Equal(1, await host.ScalarAsync($"select count(*) from marten.mt_doc_person where id = '{Plant.Inspector.Id}' and data->>'pinHash' like 'p1$%' and data->>'passwordHash' like 'p1$%'"));
        await PlantHost.EventuallyAsync(() => Task.FromResult(register.Person(Plant.Inspector.Id)!.PinHash.StartsWith("p1$", StringComparison.Ordinal)), "the register has the new hash", 30);
        Assert.Null(signing.Pin(Plant.Inspector.Id, "161803").Problem);
    }

    [Theory]
    [InlineData("Password2026!")]
    [InlineData("dragonmonkey12")]
    [InlineData("qwertyuiop99")]
    [InlineData("abcabcabcabc")]
    [InlineData("letmeinletmein")]
    [InlineData("abcdefghijkl")]
    [InlineData("aaaaaaaaaaaaab")]
    [InlineData("quality engineer1")]
    [InlineData("p-101p-101p-101")]
    public void Passwords_that_many_take_are_refused(string password) => Assert.True(Passwords.IsCommon(password, ["p-101", "Quality Engineer"]));

    [Theory]
    [InlineData("wet gravel at seven")]
    [InlineData("k7w2m9xq4htz")]
    [InlineData("password of this test")]
    public void Others_are_taken(string password) => Assert.False(Passwords.IsCommon(password, ["p-101", "Quality Engineer"]));

    [Fact]
    public async Task A_station_key_that_can_be_guessed_stops_the_start_and_names_the_device()
    {
        var file = Path.Combine(_folder, "people.json");
        await File.WriteAllTextAsync(file, """{ "devices": [{ "id": "office-9", "name": "Office", "key": "office-9-office-9-office-9-office-9", "roles": ["yard"] }], "people": [] }""");
        var failed = await Assert.ThrowsAsync<SettingException>(() => PlantHost.StartAsync(false, ["web"], $"--People:BootstrapFile={file}"));
        Assert.Contains("office-9", failed.Message, StringComparison.Ordinal);
    }
}
