using System.Diagnostics;
using System.Text;
using Traceability.Service.Log;

namespace Traceability.Service.Tests.Log;

/// <summary>
/// C2SP signed-note and tlog-checkpoint (published). The note of the first tests is the example that the format's
/// first implementation publishes, with its key.
/// </summary>
public class SignedNoteTests
{
    private const string PublishedText =
        "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";

    private const string PublishedName = "PeterNeumann";

    private const string PublishedNote = PublishedText
        + "\n— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";

    private static LogKey PublishedKey() =>
        LogKey.FromSeed(Convert.FromBase64String("AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz").AsSpan(1));

    [Fact]
    public void The_published_key_signs_the_published_text_with_the_published_signature()
    {
        Assert.Equal(PublishedNote, SignedNote.Sign(PublishedText, PublishedName, PublishedKey()));
    }

    [Fact]
    public void The_published_key_has_the_published_verifier_line()
    {
        Assert.Equal(
            "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW", PublishedKey().VerifierKey(PublishedName));
    }

    [Fact]
    public void The_published_note_opens_and_a_changed_one_does_not()
    {
        var key = PublishedKey().PublicKey;

        Assert.Equal(PublishedText, SignedNote.Open(PublishedNote, PublishedName, key));
        Assert.Null(SignedNote.Open(PublishedNote.Replace("know", "Know", StringComparison.Ordinal), PublishedName, key));
        Assert.Null(SignedNote.Open(PublishedNote, "AnotherName", key));
        Assert.Null(SignedNote.Open(PublishedNote, PublishedName, LogKey.Create().PublicKey));
        Assert.Null(SignedNote.Open(PublishedText, PublishedName, key));
    }

    [Fact]
    public void A_checkpoint_comes_back_from_its_note()
    {
        var key = LogKey.Create();
        var checkpoint = new Checkpoint("plant.example/records", 12, Merkle.LeafHash("leaf"u8));

        var note = checkpoint.Sign(key);

        Assert.Equal(
            $"plant.example/records\n12\n{Convert.ToBase64String(checkpoint.Root)}\n\n— plant.example/records ",
            note[..(note.LastIndexOf(' ') + 1)]);
        var opened = Checkpoint.Open(note, key.PublicKey)!;
        Assert.Equal(checkpoint.Text(), opened.Text());
        Assert.Null(Checkpoint.Open(note.Replace("\n12\n", "\n13\n", StringComparison.Ordinal), key.PublicKey));
        Assert.Null(Checkpoint.Open(note, LogKey.Create().PublicKey));
    }

    [Theory]
    [InlineData("")]
    [InlineData("two words")]
    [InlineData("a+b")]
    [InlineData("a\nb")]
    public void A_name_that_would_break_the_format_is_refused(string name)
    {
        Assert.Throws<ArgumentException>(() => SignedNote.Sign("text\n", name, LogKey.Create()));
        Assert.Throws<ArgumentException>(() => LogKey.Create().VerifierKey(name));
    }

    [Fact]
    public void A_key_file_is_made_once_for_its_owner_only_and_read_again()
    {
        var folder = Directory.CreateTempSubdirectory("log-key-");
        var path = Path.Combine(folder.FullName, "keys", "log.pem");

        var made = LogKey.LoadOrCreate(path);

        Assert.Equal(made.PublicKey, LogKey.LoadOrCreate(path).PublicKey);
        if (!OperatingSystem.IsWindows())
        {
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(path));
        }

        File.WriteAllText(path, made.PublicPem());
        Assert.Throws<InvalidDataException>(() => LogKey.Load(path));
        folder.Delete(recursive: true);
    }

    [Fact]
    public void Openssl_accepts_our_signature_and_we_accept_its()
    {
        var folder = Directory.CreateTempSubdirectory("log-key-").FullName;
        var key = LogKey.Create();
        var message = Encoding.UTF8.GetBytes("manifest");
        File.WriteAllBytes(Path.Combine(folder, "message"), message);
        File.WriteAllBytes(Path.Combine(folder, "signature"), key.Sign(message));
        File.WriteAllText(Path.Combine(folder, "public.pem"), key.PublicPem());
        File.WriteAllText(Path.Combine(folder, "private.pem"), key.PrivatePem());

        Assert.Contains("Verified Successfully", Openssl(
            folder, "pkeyutl -verify -pubin -inkey public.pem -rawin -in message -sigfile signature"), StringComparison.Ordinal);
        Openssl(folder, "pkeyutl -sign -inkey private.pem -rawin -in message -out theirs");
        var theirs = File.ReadAllBytes(Path.Combine(folder, "theirs"));
        Assert.True(LogKey.Verify(key.PublicKey, message, theirs));
        Assert.False(LogKey.Verify(key.PublicKey, "another"u8, theirs));
        Directory.Delete(folder, recursive: true);
    }

    private static string Openssl(string folder, string arguments)
    {
        using var process = Process.Start(new ProcessStartInfo("openssl", arguments)
        {
            WorkingDirectory = folder,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        })!;
        var output = process.StandardOutput.ReadToEnd() + process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, output);
        return output;
    }
}
